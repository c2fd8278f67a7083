"""The view of the flight as a list of entries."""
