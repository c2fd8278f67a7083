"""One suite that every link, and one that every decoder must pass."""
