"""Tests of mock_sim.stock."""
