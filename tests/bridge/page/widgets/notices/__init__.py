"""Tests of `bridge.page.widgets.notices`."""
