"""Tests of `mock_sim.twin_jet`."""
