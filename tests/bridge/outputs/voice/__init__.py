"""Tests of `bridge.outputs.voice`."""
