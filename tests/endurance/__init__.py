"""Simulated days of flights, and millions of hostile packets, sent to a real watch by command: memory, files, delay, loss."""
