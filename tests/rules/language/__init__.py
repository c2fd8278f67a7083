"""Tests of the rule language."""
