"""Tests of the batch evaluator."""
