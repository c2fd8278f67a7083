"""Tests of `bridge.page.widgets.voice`."""
