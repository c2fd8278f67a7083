"""The view of both seats' flows."""
