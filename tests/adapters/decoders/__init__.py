"""Tests of the decoders."""
