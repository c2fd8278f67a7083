"""Tests of `bridge.page.views.ahead`."""
