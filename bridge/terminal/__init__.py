"""The terminal: the live view, lines for a log, and the summary after a flight."""
