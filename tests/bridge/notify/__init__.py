"""Tests of the ways out."""
