"""The view that finds signals and shows their values."""
