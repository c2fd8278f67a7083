"""Recordings: what went into a session and what came out of it, in one file that other tools read too."""
