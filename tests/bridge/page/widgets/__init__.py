"""Tests of `bridge.page.widgets`."""
