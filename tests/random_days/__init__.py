"""Correct flights on random days, in random order and pace, over random networks: nothing may be found."""
