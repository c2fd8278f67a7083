"""Trends: what is missed most, where, and how early crews are ready, over many sessions."""
