"""The view of open items before the next phases."""
