"""Tests of `bridge.page.views`."""
