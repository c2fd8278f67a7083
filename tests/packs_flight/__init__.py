"""Whole flights judged by the pack `twin_jet`."""
