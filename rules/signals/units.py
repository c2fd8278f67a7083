"""Units: whether two of them measure the same thing, and the straight line from one to the other.

Takes: units as authors write them (`kt`, `degC/min`, `%`, `1`).  Gives: factors and offsets, or a
`UnitFault` that says what was expected.  Pint knows the units; a plane angle is kept apart from a
bare number here, so that `deg` never meets `%`.
"""

from __future__ import annotations

import math
import re
from functools import cache, lru_cache

import pint

from rules.source.suggestions import nearest_word

_DEFINITIONS = (
    # ICAO Annex 5, definitions: the knot is one nautical mile, 1852 m, an hour.  `kt` is never a kilotonne.
    "knot = 1852 * meter / hour = kt",
    "nautical_mile = 1852 * meter = NM",
    "hour = 60 * minute = h",
    "percent = 0.01 = %",
    # BIPM, third CGPM (1901): standard acceleration of gravity.
    "gn = 9.80665 * meter / second ** 2",
)

_COMMON = (
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

# Spellings that pilots use and that mean nothing, or something else, to a physicist.
_SPELLINGS = {
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
_UNIT_OF_SPELLING = {said: unit for unit, spellings in _SPELLINGS.items() for said in spellings}
_AMBIGUOUS = frozenset({"nm", "mb", "C", "F", "G"})

# Pint works out arithmetic inside a unit; a stranger's `9**9**9` must not reach it.
_SPELLING = re.compile(
    r"(?:1|%|°?[A-Za-z_]\w{0,23}(?:\^[23])?)(?:[/*](?:%|[A-Za-z_]\w{0,23}(?:\^[23])?)){0,3}"
)


class UnitFault(ValueError):  # noqa: N818 - a fault is what the author reads, here as in rules.faults
    """A unit that is not known, or does not convert; `hint` says what may have been meant ('' for nothing)."""

    def __init__(self, what: str, hint: str = "") -> None:
        """Keep both sentences; the hint is part of the printed text."""
        self.what = what
        self.hint = hint
        super().__init__(f"{what} ({hint})" if hint else what)


@cache
def _registry() -> pint.UnitRegistry[float]:
    """The one registry, read when the first unit is asked for."""
    registry: pint.UnitRegistry[float] = pint.UnitRegistry(on_redefinition="ignore")
    for definition in _DEFINITIONS:
        registry.define(definition)
    return registry


@lru_cache(maxsize=1024)
def _parse_unit(unit: str) -> tuple[pint.Unit, pint.Unit]:
    """The unit as Pint has it, and its root units, which tell whether two units measure the same thing."""
    if unit in ("", "1"):
        plain = _registry().dimensionless
        return plain, plain
    if unit in _AMBIGUOUS or not _SPELLING.fullmatch(unit):
        raise _unknown_unit(unit)
    try:
        parsed = _registry().parse_units(unit)
        root = _registry().get_root_units(parsed)[1]
        straight = _is_linear(parsed, root)
    except (pint.PintError, ValueError, TypeError, AttributeError, ArithmeticError):
        raise _unknown_unit(unit) from None
    if not straight:
        raise UnitFault(f"'{unit}' is a logarithmic unit", "say the quantity itself")
    return parsed, root


def _is_linear(unit: pint.Unit, root: pint.Unit) -> bool:
    """Whether equal steps stay equal steps; of a decibel they do not."""
    zero, one, two = (float(_registry().convert(value, unit, root)) for value in (0.0, 1.0, 2.0))
    return math.isclose(two - one, one - zero, rel_tol=1e-6)


def _unknown_unit(unit: str) -> UnitFault:
    """The fault for a unit that nobody knows."""
    near = suggest(unit)
    return UnitFault(f"unknown unit '{unit[:40]}'", f"did you mean '{near}'?" if near else "")


def is_known(unit: str) -> bool:
    """Whether the unit can be used; '' and '1' are the plain number."""
    try:
        _parse_unit(unit)
    except UnitFault:
        return False
    return True


def suggest(unit: str) -> str:
    """The unit that was probably meant, '' where nothing is near."""
    if unit in _UNIT_OF_SPELLING:
        return _UNIT_OF_SPELLING[unit]
    near = nearest_word(unit[:40], (*_COMMON, *_UNIT_OF_SPELLING))
    return _UNIT_OF_SPELLING.get(near, near)


def compatible(unit: str, other: str) -> bool:
    """Whether a value in the one unit can be said in the other; False where either is unknown."""
    try:
        return bool(_parse_unit(unit)[1] == _parse_unit(other)[1])
    except UnitFault:
        return False


@lru_cache(maxsize=1024)
def linear_conversion(unit: str, to: str, *, delta: bool = False) -> tuple[float, float]:
    """The straight line between two units.

    Args:
        unit: The unit of the value.
        to: The unit that is wanted.
        delta: True for a difference (a tolerance, a change), which no offset moves: 2 degC is 3.6 degF apart.

    Returns:
        (factor, offset), so that wanted = value * factor + offset.

    Raises:
        UnitFault: A unit is unknown, or the two do not measure the same thing.
    """
    if unit == to:
        _parse_unit(unit)
        return 1.0, 0.0
    (source, source_root), (target, target_root) = _parse_unit(unit), _parse_unit(to)
    if source_root != target_root:
        raise _not_convertible(unit, to)
    registry = _registry()
    try:
        offset = 0.0 if delta else float(registry.convert(0.0, source, target))
        factor = float(registry.convert(1.0, _delta_unit(source), _delta_unit(target)))
    except pint.PintError:
        raise _not_convertible(unit, to) from None
    return _round(factor), _round(offset)


def _round(value: float) -> float:
    """Thirteen figures: what Pint's chain of factors leaves behind them is noise (degC to degF: 31.99999999999994)."""
    return float(f"{value:.13g}")


def _not_convertible(unit: str, to: str) -> UnitFault:
    """The fault for two units that measure different things."""
    return UnitFault(f"'{unit or '1'}' does not convert to '{to or '1'}'")


def _delta_unit(unit: pint.Unit) -> pint.Unit:
    """The unit for differences of this unit: the size of a degree, without its zero point."""
    offsets = {"degree_Celsius": "delta_degC", "degree_Fahrenheit": "delta_degF"}
    return _registry().parse_units(offsets[str(unit)]) if str(unit) in offsets else unit


def convert(value: float, unit: str, to: str, *, delta: bool = False) -> float:
    """The value said in another unit; arguments and faults as for `linear`."""
    factor, offset = linear_conversion(unit, to, delta=delta)
    return value * factor + offset


def to_seconds(value: float, unit: str) -> float:
    """A time in seconds; a `UnitFault` where the unit is not one of time."""
    return convert(value, unit, "s")
