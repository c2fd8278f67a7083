"""Signals: the named quantities of an aeroplane, their books, units and present state."""
