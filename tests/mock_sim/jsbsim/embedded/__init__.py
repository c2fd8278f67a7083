"""Tests of `mock_sim.jsbsim.embedded`."""
