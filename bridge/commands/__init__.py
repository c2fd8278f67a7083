"""The commands of the terminal: one module for each, and one for all requests to a running watch."""
