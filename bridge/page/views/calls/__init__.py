"""The view of calls to enter and items to confirm."""
