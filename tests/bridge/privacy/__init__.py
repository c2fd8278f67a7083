"""Tests of `bridge.privacy`."""
