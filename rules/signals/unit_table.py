"""Table of the usual units, so that most files are read without Pint, whose import and start take long.

The numbers are Pint's; a test compares every conversion between two of these units with Pint's own.

Takes: nothing.  Gives: `TABLE`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple


class TableUnit(NamedTuple):
    """A unit: its root units, and the linear conversion to them (root = value * factor + offset)."""

    root: str
    factor: float
    offset: float


_BY_ROOT: Final[Mapping[str, Mapping[str, tuple[float, float]]]] = {
    "meter / second": {
        "kt": (0.5144444444444445, 0.0),
        "ft/min": (0.0050799999999999994, 0.0),
        "ft/s": (0.30479999999999996, 0.0),
        "m/s": (1.0, 0.0),
        "km/h": (0.2777777777777778, 0.0),
    },
    "meter": {"ft": (0.30479999999999996, 0.0), "m": (1.0, 0.0), "NM": (1852.0, 0.0), "km": (1000.0, 0.0)},
    "radian": {"deg": (0.017453292519943295, 0.0), "rad": (1.0, 0.0)},
    "radian / second": {"deg/s": (0.017453292519943295, 0.0), "rpm": (0.10471975511965977, 0.0)},
    "dimensionless": {"%": (0.01, 0.0), "1": (1.0, 0.0), "": (1.0, 0.0)},
    "meter / second ** 2": {"gn": (9.80665, 0.0), "kt/s": (0.5144444444444445, 0.0), "m/s^2": (1.0, 0.0)},
    "kelvin": {"degC": (1.0, 273.15), "degF": (0.5555555555555556, 255.37222222222223), "K": (1.0, 0.0)},
    "gram / meter / second ** 2": {
        "hPa": (100000.0, 0.0),
        "inHg": (3386388.6403409997, 0.0),
        "kPa": (1000000.0, 0.0),
        "bar": (100000000.0, 0.0),
        "psi": (6894757.293168363, 0.0),
    },
    "gram": {"kg": (1000.0, 0.0), "lb": (453.5923700000001, 0.0)},
    "meter ** 3": {"l": (0.0010000000000000002, 0.0), "gal": (0.0037854117839999993, 0.0)},
    "gram / meter ** 3": {"kg/l": (999999.9999999999, 0.0), "lb/gal": (119826.42731689666, 0.0)},
    "gram / second": {"kg/h": (0.2777777777777778, 0.0), "lb/h": (0.12599788055555558, 0.0)},
    "meter ** 3 / second": {"gal/h": (1.0515032733333332e-06, 0.0), "l/h": (2.7777777777777787e-07, 0.0)},
    "1 / second": {"Hz": (1.0, 0.0), "kHz": (1000.0, 0.0), "MHz": (1000000.0, 0.0), "%/s": (0.01, 0.0)},
    "gram * meter ** 2 / ampere / second ** 3": {"V": (1000.0, 0.0)},
    "ampere": {"A": (1.0, 0.0)},
    "second": {"s": (1.0, 0.0), "min": (60.0, 0.0), "h": (3600.0, 0.0), "ms": (0.001, 0.0)},
    "gram * meter / second ** 2": {"kN": (1000000.0, 0.0)},
    "meter ** 2": {"m^2": (1.0, 0.0)},
}
"""Factor and offset of each unit by root units."""

TABLE: Final[Mapping[str, TableUnit]] = {
    unit: TableUnit(root, factor, offset)
    for root, units in _BY_ROOT.items()
    for unit, (factor, offset) in units.items()
}
"""The units by their names."""
