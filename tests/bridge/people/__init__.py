"""Tests of persons and for how long they are kept."""
