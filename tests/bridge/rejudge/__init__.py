"""Tests of rejudging recordings."""
