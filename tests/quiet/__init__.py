"""Long runs that must stay silent, and slips that must give what they cause: `python -m tests.quiet` prints the counts."""
