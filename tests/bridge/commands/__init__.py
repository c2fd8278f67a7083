"""Tests of `bridge.commands`."""
