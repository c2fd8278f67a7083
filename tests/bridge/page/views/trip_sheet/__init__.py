"""Tests of `bridge.page.views.trip_sheet`."""
