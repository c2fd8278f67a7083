"""Tests of the judge."""
