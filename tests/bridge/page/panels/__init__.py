"""Tests of the panels."""
