"""The instructor's view of a device."""
