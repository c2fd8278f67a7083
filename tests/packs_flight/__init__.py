"""Whole flights judged by the twin_jet pack."""
