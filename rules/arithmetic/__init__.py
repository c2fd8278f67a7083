"""Flight arithmetic: pure functions with units in their names, each with its published source.

The numbers are for flight simulation.  The data of an aeroplane come from its pack, those of a real aeroplane
from its approved manual.

Public outside `rules`: `domain` and `times`; packs use the functions by their names.
"""
