"""Tests of units, signal books and state."""
