"""The migrations of the store's tables."""
