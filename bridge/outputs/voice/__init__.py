"""The voice: what is said aloud, in what order, by which engine."""
