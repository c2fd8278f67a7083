"""Persons: what of them is kept, for how long, and how it is given out and erased."""
