"""Tests of judging recordings afresh."""
