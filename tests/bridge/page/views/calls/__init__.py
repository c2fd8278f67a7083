"""Tests of `bridge.page.views.calls`."""
