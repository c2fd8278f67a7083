"""Tests of the batch judge."""
