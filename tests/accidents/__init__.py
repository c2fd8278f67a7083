"""Accidents of the past, overlaid on clean flights."""
