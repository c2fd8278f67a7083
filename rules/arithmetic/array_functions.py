"""Arithmetic functions on whole arrays, for those that a recording needs thousands of times.

Each gives exactly the value of its scalar counterpart; it gives NaN where that one raises, and for NaN.  Only the
four basic operations and the square root are bit-identical in NumPy and Python, so that sines and powers are
computed one by one.

Takes: arrays of one length.  Gives: arrays of the same length.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from rules.arithmetic import descent, fuel, great_circle, mass
from rules.arithmetic.lookup_table import LookupTable
from rules.arithmetic.step_table import StepTable

FloatArray: TypeAlias = NDArray[np.float64]


def array_function(function: Callable[..., float]) -> Callable[..., FloatArray] | None:
    """Find the array version of a function, None where there is none."""
    table = getattr(function, "__self__", None)
    if isinstance(table, LookupTable):
        return lambda x, y=None: _table(table, x, y)
    if isinstance(table, StepTable):
        return lambda x: _steps(table, x)
    return _ARRAY_FUNCTIONS.get(function)


def _positive(value: FloatArray) -> FloatArray:
    return np.where((value > 0.0) & (value < math.inf), value, np.nan)


def _not_negative(value: FloatArray) -> FloatArray:
    return np.where((value >= 0.0) & (value < math.inf), value, np.nan)


def _within(value: FloatArray, low: float, high: float) -> FloatArray:
    return np.where((value >= low) & (value <= high), value, np.nan)


def _each(function: Callable[[float], float], values: FloatArray) -> FloatArray:
    """Apply a function to each value; NaN stays NaN."""
    found = np.full(len(values), np.nan)
    known = np.flatnonzero(~np.isnan(values))
    if len(known) and np.all(values[known] == values[known[0]]):
        found[known] = function(float(values[known[0]]))
    else:
        found[known] = [function(value) for value in values[known].tolist()]
    return found


def _table(table: LookupTable, x: FloatArray, y: FloatArray | None) -> FloatArray:
    rows = np.array(table.rows)
    first, share = _between(table.xs, x)
    following = np.minimum(first + 1, len(rows) - 1)
    if not table.ys:
        low, high = rows[first, 0], rows[following, 0]
        along: FloatArray = low + share * (high - low)
        return along
    column, across = _between(table.ys, np.zeros(len(x)) if y is None else y)
    beside = np.minimum(column + 1, len(table.ys) - 1)
    start = rows[first, column] + across * (rows[first, beside] - rows[first, column])
    end = rows[following, column] + across * (rows[following, beside] - rows[following, column])
    found: FloatArray = start + share * (end - start)
    return found


def _steps(table: StepTable, x: FloatArray) -> FloatArray:
    reached = np.array(table.thresholds).searchsorted(x, "right") - 1
    found: FloatArray = np.where(np.isnan(x) | (reached < 0), np.nan, np.array(table.values)[reached])
    return found


def _between(side: tuple[float, ...], value: FloatArray) -> tuple[NDArray[np.int64], FloatArray]:
    value, points = _within(value, side[0], side[-1]), np.array(side)
    if len(side) == 1:
        return np.zeros(len(value), np.int64), value * 0.0
    first = np.minimum(points.searchsorted(value, "right"), len(side) - 1) - 1
    return first, (value - points[first]) / (points[first + 1] - points[first])


def _takeoff_mass_kg(zero_fuel_kg: FloatArray, fuel_kg: FloatArray, taxi_fuel_kg: FloatArray) -> FloatArray:
    left_kg = _not_negative(fuel_kg) - _not_negative(taxi_fuel_kg)
    return _positive(zero_fuel_kg) + np.where(left_kg < 0.0, 0.0, left_kg)


def _gross_mass_kg(zero_fuel_kg: FloatArray, fuel_kg: FloatArray) -> FloatArray:
    return _positive(zero_fuel_kg) + _not_negative(fuel_kg)


def _landing_mass_kg(takeoff_kg: FloatArray, burn_kg: FloatArray) -> FloatArray:
    return _positive(_positive(takeoff_kg) - _not_negative(burn_kg))


def _after_uplift_kg(before_kg: FloatArray, uplift_l: FloatArray, density_kg_l: FloatArray) -> FloatArray:
    density_kg_l = _within(density_kg_l, fuel.MIN_DENSITY_KG_L, fuel.MAX_DENSITY_KG_L)
    return _not_negative(before_kg) + _not_negative(uplift_l) * density_kg_l


def _at_destination_kg(on_board_kg: FloatArray, to_go_kg: FloatArray) -> FloatArray:
    return _not_negative(on_board_kg) - _not_negative(to_go_kg)


def _planned_on_board_kg(
    block_kg: FloatArray, taxi_kg: FloatArray, trip_kg: FloatArray, to_go_kg: FloatArray
) -> FloatArray:
    at_landing_kg = _at_destination_kg(block_kg, _not_negative(taxi_kg) + trip_kg)
    return at_landing_kg + _not_negative(to_go_kg)


def _lost_kg(block_kg: FloatArray, used_kg: FloatArray, on_board_kg: FloatArray) -> FloatArray:
    return _not_negative(block_kg) - _not_negative(used_kg) - _not_negative(on_board_kg)


def _imbalance_kg(left_kg: FloatArray, right_kg: FloatArray) -> FloatArray:
    return np.abs(_not_negative(left_kg) - _not_negative(right_kg))


def _slope(path_deg: FloatArray | None) -> FloatArray | float:
    if path_deg is None:
        return math.tan(math.radians(descent.STANDARD_PATH_DEG))
    return _each(lambda deg: math.tan(math.radians(deg)), _within(path_deg, 0.5, 15.0))


def _distance_to_descend_nm(height_to_lose_ft: FloatArray, path_deg: FloatArray | None = None) -> FloatArray:
    return _not_negative(height_to_lose_ft) / descent.FEET_PER_NAUTICAL_MILE / _slope(path_deg)


def _descent_rate_ft_min(ground_speed_kt: FloatArray, path_deg: FloatArray | None = None) -> FloatArray:
    return _not_negative(ground_speed_kt) * descent.FEET_PER_NAUTICAL_MILE / 60.0 * _slope(path_deg)


def _required_rate_ft_min(
    height_to_lose_ft: FloatArray, distance_nm: FloatArray, ground_speed_kt: FloatArray
) -> FloatArray:
    time_min = _positive(distance_nm) / _positive(ground_speed_kt) * 60.0
    return _not_negative(height_to_lose_ft) / _positive(time_min)


def _distance_nm(
    latitude_deg: FloatArray,
    longitude_deg: FloatArray,
    to_latitude_deg: FloatArray,
    to_longitude_deg: FloatArray,
) -> FloatArray:
    here = np.radians(_within(latitude_deg, -90.0, 90.0))
    there = np.radians(_within(to_latitude_deg, -90.0, 90.0))
    north = _each(lambda angle: math.sin(angle) ** 2, (there - here) / 2.0)
    east = _each(lambda angle: math.sin(angle) ** 2, np.radians(to_longitude_deg - longitude_deg) / 2.0)
    half_chord = np.sqrt(north + _each(math.cos, here) * _each(math.cos, there) * east)
    return 2.0 * great_circle.EARTH_RADIUS_NM * _each(math.asin, np.minimum(1.0, half_chord))


_ARRAY_FUNCTIONS: Mapping[Callable[..., float], Callable[..., FloatArray]] = {
    mass.takeoff_mass_kg: _takeoff_mass_kg,
    mass.gross_mass_kg: _gross_mass_kg,
    mass.landing_mass_kg: _landing_mass_kg,
    fuel.after_uplift_kg: _after_uplift_kg,
    fuel.at_destination_kg: _at_destination_kg,
    fuel.planned_on_board_kg: _planned_on_board_kg,
    fuel.lost_kg: _lost_kg,
    fuel.imbalance_kg: _imbalance_kg,
    descent.distance_to_descend_nm: _distance_to_descend_nm,
    descent.descent_rate_ft_min: _descent_rate_ft_min,
    descent.required_rate_ft_min: _required_rate_ft_min,
    great_circle.distance_nm: _distance_nm,
}
ARRAY_CAPABLE = tuple(_ARRAY_FUNCTIONS)
"""The functions that have an array version, beside the tables."""
