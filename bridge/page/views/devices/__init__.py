"""The view of all devices."""
