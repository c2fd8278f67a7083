"""The demonstration: a mock flight in a process of its own, watched on this machine."""
