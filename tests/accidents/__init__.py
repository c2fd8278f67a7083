"""Accidents of the past, laid over clean flights: `python -m tests.accidents` prints the table."""
