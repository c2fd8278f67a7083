"""Tests of `mock_sim.crew`."""
