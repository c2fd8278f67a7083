"""The list of open items, by seat."""
