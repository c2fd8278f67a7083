"""Decoders: wire formats, one a file."""
