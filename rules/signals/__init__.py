"""Signals: the named quantities of an aeroplane, their books, units and present state.

Public: `model`, `book`, `units`, `amounts`, `number_format`, and of recordings `input_log`, `stale_intervals`.
"""
