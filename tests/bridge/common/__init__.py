"""Tests of `bridge.common`."""
