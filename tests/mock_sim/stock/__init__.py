"""Tests of mock_sim.jsbsim.process."""
