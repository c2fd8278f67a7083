"""Tests of trends."""
