"""Tests of `mock_sim.scenario`."""
