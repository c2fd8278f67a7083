"""Numbers as a pilot reads them: "1 240 psi", "0.8 s", "25 %", "29.92 inHg".

Takes: a value and its unit.  Gives: text.
"""

from __future__ import annotations

import math
from decimal import Decimal

# Dialled values lose their meaning when rounded to the ordinary number of decimals.
_DECIMALS = {"inHg": 2, "MHz": 3, "kg/l": 3}
_MAX_DECIMALS = 6


def format_value(value: float, unit: str) -> str:
    """Format a value with its unit: whole from 100 on, one decimal below, three significant figures below 1.

    Args:
        value: The number; one that is not finite becomes "not a number".
        unit: Its unit; '' and '1' are left out.

    Returns:
        Text with thousands grouped by a plain space and without trailing zeros.
    """
    return _format(value, unit, _decimals(value, unit))


def in_steps(value: float, step: float) -> float:
    """Round a value for a text to whole steps; a step of 0 leaves it as it is."""
    return round(value / step) * step if step and math.isfinite(value) else value


def format_distinct(value: float, other: float, unit: str) -> tuple[str, str]:
    """Format two values with enough decimals to distinguish them ("127.6 kt" from "128 kt")."""
    decimals = max(_decimals(value, unit), _decimals(other, unit))
    first, second = format_value(value, unit), format_value(other, unit)
    while first == second and value != other and decimals < _MAX_DECIMALS:
        decimals += 1
        first, second = _format(value, unit, decimals), _format(other, unit, decimals)
    return first, second


def format_missing_data(seconds: float) -> str:
    """Say how much data is missing: "1.8 s of data missing"; at least a tenth of a second."""
    return f"{format_value(max(round(seconds, 1), 0.1), 's')} of data missing"


def format_clock(sim_s: float) -> str:
    """Format the simulator's time as `0:10:40`; fractions are cut off, times before 0 are 0:00:00."""
    total = int(max(0.0, sim_s))
    return f"{total // 3600}:{total // 60 % 60:02d}:{total % 60:02d}"


def shortest_digits(value: float) -> str:
    """Format a number with the fewest digits that give the same number back; the language has no exponents."""
    text = format(Decimal(repr(float(value))), "f")
    return text.removesuffix(".0")


def _decimals(value: float, unit: str) -> int:
    """Number of decimals for a value of this size."""
    size = abs(value)
    if unit in _DECIMALS:
        return _DECIMALS[unit]
    if not math.isfinite(size) or size >= 100 or size == 0:
        return 0
    return 1 if size >= 1 else min(2 - math.floor(math.log10(size)), _MAX_DECIMALS)


def _format(value: float, unit: str, decimals: int) -> str:
    """Format the number with at most this number of decimals, grouped, and its unit."""
    if not math.isfinite(value):
        return "not a number"
    plain = unit in ("", "1")
    # A number without a unit is a code or a count; a gap inside it would be misread.
    text = f"{value:.{decimals}f}" if plain else f"{value:,.{decimals}f}".replace(",", " ")
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    text = "0" if text == "-0" else text
    return text if plain else f"{text} {unit}"
