"""Tests of `mock_sim.common`."""
