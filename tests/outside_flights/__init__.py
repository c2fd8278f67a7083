"""Recorded flights from outside, judged by few signals: their phases beside those of another classifier."""
