"""The search field that filters a list."""
