"""Tests of `bridge.session`."""
