"""Trends over many sessions: items that crews miss most, gates, error classes and months."""
