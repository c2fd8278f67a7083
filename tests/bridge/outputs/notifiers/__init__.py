"""Tests of `bridge.outputs.notifiers`."""
