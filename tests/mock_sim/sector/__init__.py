"""Tests of the scenario `sector`, flown from end to end."""
