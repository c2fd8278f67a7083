"""The view of the link's state and counters."""
