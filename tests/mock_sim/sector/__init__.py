"""Tests of the mock crew, its scenarios and its senders."""
