"""Tests of `bridge.outputs`."""
