"""Fuzzing of everything that comes in from outside: coverage-guided by command, from a saved corpus in every test run."""
