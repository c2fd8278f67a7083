"""Tests of `bridge.page.views.signals`."""
