"""The runtime: devices with their links, the clock, the control port, start and shutdown."""
