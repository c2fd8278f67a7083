"""Equality of measured numbers and directions, up to the rounding of 32-bit senders.

Takes: two numbers.  Gives: whether they count as equal, and the angle between two directions.
"""

from __future__ import annotations

from math import isclose
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from rules.signals.columns import FloatArray

    _Degrees = TypeVar("_Degrees", float, FloatArray)

FULL_CIRCLE_DEG = 360.0
RELATIVE_TOLERANCE = 1e-6
"""Largest difference between two equal numbers, relative to the greater one; a 32-bit float has about seven digits."""


def nearly_equal(left: float, right: float) -> bool:
    """Compare two numbers, up to the rounding of 32-bit senders."""
    return left == right or abs(left - right) <= RELATIVE_TOLERANCE * max(abs(left), abs(right))


def has_moved(first: float, value: float) -> bool:
    """Check if a signal has left its first value; near zero a difference of `RELATIVE_TOLERANCE` itself is none."""
    return not isclose(first, value, rel_tol=RELATIVE_TOLERANCE, abs_tol=RELATIVE_TOLERANCE)


def angle_between_deg(left: float, right: float) -> float:
    """Angle between two directions the short way round, 0 to 180 deg."""
    gap = abs(left - right) % FULL_CIRCLE_DEG
    return min(gap, FULL_CIRCLE_DEG - gap)


def nearly_same_direction(left: float, right: float) -> bool:
    """Compare two directions, up to the rounding of 32-bit senders."""
    return angle_between_deg(left, right) <= RELATIVE_TOLERANCE * max(abs(left), abs(right))


def short_way_deg(turn: _Degrees) -> _Degrees:
    """Reduce a difference of two directions to the short way round, -180 to below 180 deg; numbers or arrays."""
    half = FULL_CIRCLE_DEG / 2
    return (turn + half) % FULL_CIRCLE_DEG - half
