"""`rules.signals.equality` for arrays; apart from it, since the evaluation of a live flight needs no arrays.

Takes: arrays of numbers.  Gives: for each pair whether it counts as equal.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from rules.signals.columns import FloatArray
from rules.signals.equality import FULL_CIRCLE_DEG, RELATIVE_TOLERANCE


def nearly_equal(left: FloatArray, right: FloatArray) -> NDArray[np.bool_]:
    """Compare numbers, up to the rounding of 32-bit senders."""
    same: NDArray[np.bool_] = (left == right) | (np.abs(left - right) <= _tolerance(left, right))
    return same


def have_moved(first: float, values: FloatArray) -> NDArray[np.bool_]:
    """Check which values differ from a signal's first one."""
    apart = np.abs(values - first)
    return (apart > RELATIVE_TOLERANCE * np.maximum(np.abs(values), abs(first))) & (
        apart > RELATIVE_TOLERANCE
    )


def angle_between_deg(left: FloatArray, right: FloatArray) -> FloatArray:
    """Angles between directions the short way round, 0 to 180 deg."""
    gap = np.abs(left - right) % FULL_CIRCLE_DEG
    return np.minimum(gap, FULL_CIRCLE_DEG - gap)


def nearly_same_direction(left: FloatArray, right: FloatArray) -> NDArray[np.bool_]:
    """Compare directions, up to the rounding of 32-bit senders."""
    return angle_between_deg(left, right) <= _tolerance(left, right)


def _tolerance(left: FloatArray, right: FloatArray) -> FloatArray:
    return RELATIVE_TOLERANCE * np.maximum(np.abs(left), np.abs(right))
