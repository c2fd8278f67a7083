"""Tests of the trends."""
