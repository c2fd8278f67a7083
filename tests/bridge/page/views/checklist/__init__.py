"""Tests of `bridge.page.views.checklist`."""
