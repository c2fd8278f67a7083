"""Tests of bridge.page.parts."""
