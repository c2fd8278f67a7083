"""Tests of `mock_sim.piston`."""
