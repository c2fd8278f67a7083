"""Tests of `mock_sim/`: the aeroplanes, the crew, scenarios, sending."""
