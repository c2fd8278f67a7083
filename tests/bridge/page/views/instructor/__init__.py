"""Tests of `bridge.page.views.instructor`."""
