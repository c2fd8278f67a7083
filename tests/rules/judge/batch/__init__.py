"""Tests of judging a tape at once."""
