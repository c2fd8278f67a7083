"""Tests of bridge.voice."""
