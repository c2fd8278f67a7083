"""Tests of `bridge.page.views.flows`."""
