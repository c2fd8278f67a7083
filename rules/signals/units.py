"""Units: compatibility of two units, and the linear conversion from one to the other.

Takes: units as authors write them (`kt`, `degC/min`, `%`, `1`).  Gives: factors and offsets, or a
`UnitFault` that says what was expected.  Pint knows the units, the usual ones are in a table; a plane angle and a bare
number are kept apart here, so that `deg` never converts to `%`.
"""

from __future__ import annotations

import re
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from rules.signals.equality import nearly_equal
from rules.signals.unit_table import TABLE
from rules.source.suggestions import hint_of, nearest_word

if TYPE_CHECKING:
    import pint

_DEFINITIONS = (
    # ICAO Annex 5, definitions: the knot is one nautical mile, 1852 m, an hour.  `kt` is never a kilotonne.
    "knot = 1852 * meter / hour = kt",
    "nautical_mile = 1852 * meter = NM",
    "hour = 60 * minute = h",
    "percent = 0.01 = %",
    # BIPM, third CGPM (1901): standard acceleration of gravity.
    "gn = 9.80665 * meter / second ** 2",
)

COMMON_UNITS = (
    *("kt", "ft/min", "ft", "m", "NM", "km", "m/s", "km/h", "deg", "rad", "deg/s", "%", "1", "gn", "degC"),
    *(
        "degF",
        "K",
        "hPa",
        "inHg",
        "kPa",
        "bar",
        "psi",
        "kg",
        "lb",
        "l",
        "gal",
        "kg/l",
        "lb/gal",
        "kg/h",
        "lb/h",
    ),
    *("gal/h", "l/h", "rpm", "Hz", "kHz", "MHz", "V", "A", "s", "min", "h", "ms"),
)

SPELLINGS = {
    "NM": ("nm", "nmi"),
    "kt": ("kts", "kn", "knots"),
    "ft/min": ("fpm",),
    "ft": ("feet",),
    "hPa": ("mb", "mbar"),
    "inHg": ("in",),
    "degC": ("C", "°C"),
    "degF": ("F", "°F"),
    "deg": ("°", "degrees"),
    "gn": ("g", "G"),
    "lb": ("lbs",),
    "kg": ("kgs",),
    "lb/h": ("pph",),
    "gal/h": ("gph",),
    "%": ("percent",),
    "s": ("sec", "secs"),
    "min": ("mins",),
    "h": ("hr", "hrs"),
}
"""Spellings that pilots use, by unit; a physicist reads nothing or another unit in them, so they give a hint only."""

_UNIT_OF_SPELLING = {spelling: unit for unit, spellings in SPELLINGS.items() for spelling in spellings}
_AMBIGUOUS = frozenset({"nm", "mb", "C", "F", "G"})

# Pint evaluates arithmetic inside a unit; an untrusted `9**9**9` must not reach it.
_SPELLING = re.compile(
    r"(?:1|%|°?[A-Za-z_]\w{0,23}(?:\^[23])?)(?:[/*](?:%|[A-Za-z_]\w{0,23}(?:\^[23])?)){0,3}"
)


class UnitFault(ValueError):  # noqa: N818 - a fault is what the author reads, here as in rules.faults
    """Unknown unit, or one that does not convert; `hint` suggests the intended unit ('' for none)."""

    def __init__(self, what: str, hint: str = "") -> None:
        """Store both sentences; the hint is part of the printed text."""
        self.what = what
        self.hint = hint
        super().__init__(f"{what} ({hint})" if hint else what)


@cache
def _registry() -> pint.UnitRegistry[float]:
    """Give the one registry, loaded at first use."""
    import pint

    registry: pint.UnitRegistry[float] = pint.UnitRegistry(on_redefinition="ignore")
    for definition in _DEFINITIONS:
        registry.define(definition)
    return registry


@lru_cache(maxsize=1024)
def _parse_unit(unit: str) -> tuple[pint.Unit, pint.Unit]:
    """Parse a unit; gives it and its root units, which show whether two units measure the same quantity."""
    if unit in ("", "1"):
        plain = _registry().dimensionless
        return plain, plain
    if unit in _AMBIGUOUS or not _SPELLING.fullmatch(unit):
        raise _unknown_unit(unit)
    from pint import PintError

    try:
        parsed = _registry().parse_units(unit)
        root = _registry().get_root_units(parsed)[1]
        linear = _is_linear(parsed, root)
    except (PintError, ValueError, TypeError, AttributeError, ArithmeticError):
        raise _unknown_unit(unit) from None
    if not linear:
        raise UnitFault(f"'{unit}' is a logarithmic unit", "use a linear unit")
    return parsed, root


def _is_linear(unit: pint.Unit, root: pint.Unit) -> bool:
    """Check that equal steps convert to equal steps; those of a decibel do not."""
    zero, one, two = (float(_registry().convert(value, unit, root)) for value in (0.0, 1.0, 2.0))
    return nearly_equal(two - one, one - zero)


def _unknown_unit(unit: str) -> UnitFault:
    """Make the fault for an unknown unit."""
    return UnitFault(f"unknown unit '{unit[:40]}'", unit_hint(unit))


def is_known(unit: str) -> bool:
    """Check that the unit can be used; '' and '1' are the plain number."""
    if unit in TABLE:
        return True
    try:
        _parse_unit(unit)
    except UnitFault:
        return False
    return True


def unit_hint(unit: str) -> str:
    """Suggest the intended unit in a hint, '' where none is near."""
    if unit in _UNIT_OF_SPELLING:
        return hint_of(_UNIT_OF_SPELLING[unit])
    near = nearest_word(unit[:40], (*COMMON_UNITS, *_UNIT_OF_SPELLING))
    return hint_of(_UNIT_OF_SPELLING.get(near, near))


def compatible(unit: str, other: str) -> bool:
    """Check that two units measure the same quantity; False where either is unknown."""
    if unit in TABLE and other in TABLE:
        return TABLE[unit].root == TABLE[other].root
    try:
        return bool(_parse_unit(unit)[1] == _parse_unit(other)[1])
    except UnitFault:
        return False


@lru_cache(maxsize=1024)
def linear_conversion(unit: str, to: str, *, delta: bool = False) -> tuple[float, float]:
    """Give the linear conversion between two units.

    Args:
        unit: The unit of the value.
        to: The wanted unit.
        delta: True for a difference (a tolerance, a change), which has no zero point: 2 degC is 3.6 degF.

    Returns:
        (factor, offset), so that wanted = value * factor + offset.

    Raises:
        UnitFault: A unit is unknown, or the two do not measure the same quantity.
    """
    if unit in TABLE and to in TABLE:
        return _table_conversion(unit, to, delta=delta)
    return _pint_conversion(unit, to, delta=delta)


def _table_conversion(unit: str, to: str, *, delta: bool) -> tuple[float, float]:
    """Give the conversion between two units of the table."""
    source, target = TABLE[unit], TABLE[to]
    if source.root != target.root:
        raise _not_convertible(unit, to)
    offset = 0.0 if delta else (source.offset - target.offset) / target.factor
    return _round(source.factor / target.factor), _round(offset)


def _pint_conversion(unit: str, to: str, *, delta: bool) -> tuple[float, float]:
    """Give the conversion between any two units."""
    if unit == to:
        _parse_unit(unit)
        return 1.0, 0.0
    (source, source_root), (target, target_root) = _parse_unit(unit), _parse_unit(to)
    if source_root != target_root:
        raise _not_convertible(unit, to)
    from pint import PintError

    registry = _registry()
    try:
        offset = 0.0 if delta else float(registry.convert(0.0, source, target))
        factor = float(registry.convert(1.0, _delta_unit(source), _delta_unit(target)))
    except PintError:
        raise _not_convertible(unit, to) from None
    return _round(factor), _round(offset)


def _round(value: float) -> float:
    """Round to thirteen figures; the rest is noise of Pint's chain of factors (degC to degF: 31.99999999999994)."""
    return float(f"{value:.13g}")


def _not_convertible(unit: str, to: str) -> UnitFault:
    """Make the fault for two units that measure different quantities."""
    return UnitFault(f"'{unit or '1'}' does not convert to '{to or '1'}'")


def _delta_unit(unit: pint.Unit) -> pint.Unit:
    """Give the unit for differences of this unit: the size of a degree, without its zero point."""
    offsets = {"degree_Celsius": "delta_degC", "degree_Fahrenheit": "delta_degF"}
    return _registry().parse_units(offsets[str(unit)]) if str(unit) in offsets else unit


def convert(value: float, unit: str, to: str, *, delta: bool = False) -> float:
    """Convert a value to another unit; arguments and faults as for `linear_conversion`."""
    factor, offset = linear_conversion(unit, to, delta=delta)
    return value * factor + offset


def to_seconds(value: float, unit: str) -> float:
    """Convert a time to seconds; `UnitFault` where the unit is not one of time."""
    return convert(value, unit, "s")
