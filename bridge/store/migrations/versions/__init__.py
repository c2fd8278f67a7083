"""The steps; each names the one before it."""
