"""Tests of `rules.arithmetic`."""
