"""Tests of `mock_sim.send`."""
