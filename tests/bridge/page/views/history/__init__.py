"""Tests of `bridge.page.views.history`."""
