"""Tests of `bridge.page.views.timeline`."""
