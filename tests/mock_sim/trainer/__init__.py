"""Tests of the Halyard 12: one file for each group of its systems, and the circuit that it flies."""
