"""Slips of unit and of digit: what a wrong number probably was, told from the one that was expected.

Takes: two numbers in the same unit.  Gives: a plain clause, '' where nothing fits.
"""

from __future__ import annotations

from typing import NamedTuple

from rules.arithmetic.domain import require_positive

# Definitions: 1 lb = 0.45359237 kg, 1 US gal = 3.785411784 l, 1 ft = 0.3048 m.
# 0.803 kg/l and 1.77 lb/l are one density; the second was multiplied for the first (board of inquiry, accident of 23 July 1983).
LB_PER_KG = 1.0 / 0.45359237
L_PER_GAL = 3.785411784
DENSITY_KG_L = 0.803
FT_PER_M = 1.0 / 0.3048


class _Mixup(NamedTuple):
    """Actual over expected, the kind of quantity it can happen to, and how it is said."""

    ratio: float
    unit: str
    text: str


_MASS = (
    _Mixup(LB_PER_KG, "kg", "looks like pounds taken for kilograms"),
    _Mixup(1.0 / LB_PER_KG, "kg", "looks like kilograms taken for pounds"),
)
_LENGTH = (
    _Mixup(FT_PER_M, "ft", "looks like feet taken for metres"),
    _Mixup(1.0 / FT_PER_M, "ft", "looks like metres taken for feet"),
    _Mixup(FT_PER_M, "m", "looks like feet taken for metres"),
    _Mixup(1.0 / FT_PER_M, "m", "looks like metres taken for feet"),
)
_VOLUME = (
    _Mixup(L_PER_GAL, "l", "looks like litres taken for US gallons"),
    _Mixup(1.0 / L_PER_GAL, "l", "looks like US gallons taken for litres"),
)
_FUEL = (
    _Mixup(L_PER_GAL, "kg", "looks like litres taken for US gallons"),
    _Mixup(1.0 / L_PER_GAL, "kg", "looks like US gallons taken for litres"),
    _Mixup(
        DENSITY_KG_L * LB_PER_KG, "kg", "looks like pounds in a litre (1.77) taken for kilograms in a litre"
    ),
    _Mixup(1.0 / (DENSITY_KG_L * LB_PER_KG), "kg", "looks like litres of fuel taken for pounds"),
    _Mixup(DENSITY_KG_L, "kg", "looks like kilograms taken for litres of fuel"),
    _Mixup(1.0 / DENSITY_KG_L, "kg", "looks like litres of fuel taken for kilograms"),
)
_DIGITS = (
    _Mixup(10.0, "", "looks like one digit too many"),
    _Mixup(0.1, "", "looks like one digit too few"),
)
_TOLERANCE = 0.03


def unit_mixup(expected: float, actual: float, unit: str, *, fuel: bool = False) -> str:
    """What mix-up of units would make the one number of the other.

    Args:
        expected: What it should be, more than 0.
        actual: What it is, more than 0.
        unit: Its unit: kg, l, m or ft; with any other only a lost or doubled digit is looked for.
        fuel: Whether it is fuel, which is also filled by the litre and the gallon.

    Returns:
        A clause, '' where the ratio is none of the known ones within 3 %; the nearest where several fit.

    Source: definitions of the units; the ratios met in accident reports.
    """
    ratio = require_positive("actual value", actual) / require_positive("expected value", expected)
    known = (*_MASS, *_LENGTH, *_VOLUME, *_DIGITS, *(_FUEL if fuel else ()))
    fitting = [m for m in known if m.unit in ("", unit) and abs(ratio / m.ratio - 1.0) <= _TOLERANCE]
    return min(fitting, key=lambda m: abs(ratio / m.ratio - 1.0)).text if fitting else ""


def mistyped_digit(expected: float, actual: float) -> str:
    """Whether the two whole numbers differ by one digit, or by two that changed places.

    Only digits that matter count: of four or more, the last two may differ anyhow, and what is within 3 % is no slip
    (262.9 t typed for 362.9 t, ATSB AO-2009-012).

    Returns:
        A clause, '' where they do not.
    """
    left, right = (f"{abs(number):.0f}" for number in (expected, actual))
    if len(left) != len(right) or len(left) < 3 or abs(actual - expected) <= _TOLERANCE * abs(expected):
        return ""
    kept = len(left) - 2 if len(left) >= 4 else len(left)
    apart = [place for place in range(kept) if left[place] != right[place]]
    if len(apart) == 1:
        place = apart[0]
        return f"looks like {right[place]} typed for {left[place]}"
    if len(apart) == 2 and apart[1] == apart[0] + 1:
        first, second = apart
        if (left[first], left[second]) == (right[second], right[first]):
            return "looks like two digits that changed places"
    return ""
