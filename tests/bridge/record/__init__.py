"""Tests of bridge.record."""
