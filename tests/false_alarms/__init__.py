"""Long runs that must stay silent, and slips that must give what they cause: `python -m tests.false_alarms` prints the counts."""
