"""A slip for each item and watch of both packs, laid over clean flights: which is found, and whether it is found alone."""
