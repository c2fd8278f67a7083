"""Tests of `bridge.demo`."""
