"""Tests of `bridge.terminal`."""
