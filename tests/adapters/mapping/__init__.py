"""Tests of map files, converters and the mapper."""
