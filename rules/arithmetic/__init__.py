"""Flight arithmetic: pure functions, units in their names, each with its published source.

The numbers are for flight simulation; an aeroplane's own data come from its pack, and those of a real one from its
approved manual.
"""
