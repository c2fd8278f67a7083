"""Tests of `rules.language.online`."""
