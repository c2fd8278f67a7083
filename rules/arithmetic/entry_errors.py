"""Entry errors: the probable cause of a wrong number, from the number and the expected one.

Takes: two numbers in the same unit.  Gives: a short text, '' where no known error fits.
"""

from __future__ import annotations

from typing import NamedTuple

from rules.arithmetic.domain import require_positive

# Definitions: 1 lb = 0.45359237 kg, 1 US gal = 3.785411784 l, 1 ft = 0.3048 m.
# 0.803 kg/l and 1.77 lb/l are one density; the second was used for the first (board of inquiry, accident of 23 July 1983).
LB_PER_KG = 1.0 / 0.45359237
L_PER_GAL = 3.785411784
DENSITY_KG_L = 0.803
FT_PER_M = 1.0 / 0.3048


class _Mixup(NamedTuple):
    """Known mix-up: ratio of actual to expected value, unit of the quantity, and text."""

    ratio: float
    unit: str
    text: str


_MASS = (
    _Mixup(LB_PER_KG, "kg", "pounds entered as kilograms?"),
    _Mixup(1.0 / LB_PER_KG, "kg", "kilograms entered as pounds?"),
)
_LENGTH = (
    _Mixup(FT_PER_M, "ft", "feet entered as metres?"),
    _Mixup(1.0 / FT_PER_M, "ft", "metres entered as feet?"),
    _Mixup(FT_PER_M, "m", "feet entered as metres?"),
    _Mixup(1.0 / FT_PER_M, "m", "metres entered as feet?"),
)
_VOLUME = (
    _Mixup(L_PER_GAL, "l", "litres entered as US gallons?"),
    _Mixup(1.0 / L_PER_GAL, "l", "US gallons entered as litres?"),
)
_FUEL = (
    _Mixup(L_PER_GAL, "kg", "litres entered as US gallons?"),
    _Mixup(1.0 / L_PER_GAL, "kg", "US gallons entered as litres?"),
    _Mixup(DENSITY_KG_L * LB_PER_KG, "kg", "pounds per litre as kilograms?"),
    _Mixup(1.0 / (DENSITY_KG_L * LB_PER_KG), "kg", "litres of fuel entered as pounds?"),
    _Mixup(DENSITY_KG_L, "kg", "kilograms entered as litres of fuel?"),
    _Mixup(1.0 / DENSITY_KG_L, "kg", "litres of fuel entered as kilograms?"),
)
_DIGITS = (
    _Mixup(10.0, "", "one digit too many?"),
    _Mixup(0.1, "", "one digit missing?"),
)
_TOLERANCE = 0.03


def unit_mixup(expected: float, actual: float, unit: str, *, fuel: bool = False) -> str:
    """Find the mix-up of units that explains a wrong number.

    Args:
        expected: Expected value, more than 0.
        actual: Actual value, more than 0.
        unit: Its unit: kg, l, m or ft; with any other only a missing or extra digit is looked for.
        fuel: True for fuel, which is also measured by the litre and the gallon.

    Returns:
        A short text, '' where no known ratio is within 3 %; the nearest where several are.

    Source: definitions of the units; the ratios occur in accident reports.
    """
    ratio = require_positive("actual value", actual) / require_positive("expected value", expected)
    known = (*_MASS, *_LENGTH, *_VOLUME, *_DIGITS, *(_FUEL if fuel else ()))
    fitting = [m for m in known if m.unit in ("", unit) and abs(ratio / m.ratio - 1.0) <= _TOLERANCE]
    return min(fitting, key=lambda m: abs(ratio / m.ratio - 1.0)).text if fitting else ""


def mistyped_digit(expected: float, actual: float) -> str:
    """Find the single wrong digit, or the two transposed digits, of a whole number.

    Only significant digits count: of four or more, the last two may differ in any way, and a difference within 3 % is
    no entry error (262.9 t typed for 362.9 t, ATSB AO-2009-012).

    Returns:
        A short text, '' where neither fits.
    """
    left, right = (f"{abs(number):.0f}" for number in (expected, actual))
    if len(left) != len(right) or len(left) < 3 or abs(actual - expected) <= _TOLERANCE * abs(expected):
        return ""
    significant = len(left) - 2 if len(left) >= 4 else len(left)
    different = [place for place in range(significant) if left[place] != right[place]]
    if len(different) == 1:
        place = different[0]
        return f"{right[place]} typed for {left[place]}?"
    if len(different) == 2 and different[1] == different[0] + 1:
        first, second = different
        if (left[first], left[second]) == (right[second], right[first]):
            return "transposed digits?"
    return ""
