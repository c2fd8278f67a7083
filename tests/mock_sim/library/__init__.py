"""Tests of mock_sim.library."""
