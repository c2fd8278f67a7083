"""Speed beside peers."""
