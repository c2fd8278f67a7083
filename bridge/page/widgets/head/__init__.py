"""The bar on top of every view."""
