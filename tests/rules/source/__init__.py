"""Tests of reading YAML and JSON with positions."""
