"""Tests of the mock aeroplane: one file for each of its systems."""
