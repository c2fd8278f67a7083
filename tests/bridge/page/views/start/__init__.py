"""Tests of `bridge.page.views.start`."""
