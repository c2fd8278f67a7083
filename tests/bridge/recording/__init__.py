"""Tests of `bridge.recording`."""
