"""Tests of `rules.language.check`."""
