"""Tests of bridge.recording."""
