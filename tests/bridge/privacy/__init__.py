"""Tests of privacy."""
