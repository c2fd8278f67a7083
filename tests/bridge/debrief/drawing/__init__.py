"""Tests of the debrief."""
