"""The view of engine starts and other traces."""
