"""The revisions of the tables; each names the one before it."""
