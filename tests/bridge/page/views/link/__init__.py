"""Tests of `bridge.page.views.link`."""
