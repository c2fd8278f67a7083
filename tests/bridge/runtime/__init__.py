"""Tests of `bridge.runtime`."""
