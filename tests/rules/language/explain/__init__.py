"""Tests of `rules.language.explain`."""
