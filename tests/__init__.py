"""Tests, in folders that mirror the source."""
