"""Tests of the map."""
