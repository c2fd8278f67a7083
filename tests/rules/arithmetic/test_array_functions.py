"""Array functions give exactly the results of the scalar ones, and NaN where those raise."""

from __future__ import annotations

import inspect
import math
import struct
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rules.arithmetic.array_functions import ARRAY_CAPABLE, array_function
from rules.arithmetic.domain import DomainError
from rules.arithmetic.fuel import endurance_min
from rules.arithmetic.lookup_table import LookupTable
from rules.arithmetic.step_table import StepTable

NUMBERS = st.one_of(
    st.floats(-10.0, 200.0),
    st.floats(0.6, 1.0),
    st.floats(0.0, 90_000.0),
    st.sampled_from([0.0, -0.0, 1.0, 90.0, -90.0, 15.0, 45.0, 1e12, -1.0]),
)
LINE = LookupTable((0.0, 10.0, 45.0), (), ((1.0,), (2.5,), (-3.1,)))
GRID = LookupTable((0.0, 10.0, 45.0), (-5.0, 90.0), ((1.0, 7.3), (2.5, 0.1), (-3.1, 4.0)))
# Times shorter than the resolution of a minute are left out.
NUMBERS = NUMBERS.filter(lambda number: number == 0.0 or abs(number) > 1e-200)
STEPS = StepTable((0.0, 5.0, 20.0), (250.0, 230.0, 180.0))
POINT = LookupTable((10.0,), (), ((3.3,),))


def _bits(value: float) -> bytes:
    """Bits of a number; NaN has one form."""
    return b"" if math.isnan(value) else struct.pack("d", value)


def _one(function: Callable[..., float], given: tuple[float, ...]) -> bytes:
    try:
        return _bits(function(*given))
    except DomainError:
        return b""


def _same(function: Callable[..., float], points: list[tuple[float, ...]]) -> None:
    arrays = array_function(function)
    assert arrays is not None
    with np.errstate(all="ignore"):
        found = arrays(*(np.array(column) for column in zip(*points, strict=True)))
    assert [_bits(value) for value in found.tolist()] == [_one(function, point) for point in points]


@pytest.mark.parametrize("function", ARRAY_CAPABLE, ids=lambda function: str(function.__name__))
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_array_functions_agree_with_single_values(
    function: Callable[..., float], data: st.DataObject
) -> None:
    """Arrays give the results of single numbers, with and without the optional parameters."""
    parameters = inspect.signature(function).parameters.values()
    needed = sum(parameter.default is parameter.empty for parameter in parameters)
    width = data.draw(st.integers(needed, len(parameters)))
    _same(function, data.draw(st.lists(st.tuples(*[NUMBERS] * width), min_size=1, max_size=20)))


@given(st.lists(st.tuples(NUMBERS), min_size=1, max_size=20))
def test_a_table_of_one_side(points: list[tuple[float, ...]]) -> None:
    """Values between the points of a table, on them and beyond its ends."""
    _same(LINE.interpolate, points)
    _same(POINT.interpolate, points)


@given(
    st.lists(
        st.tuples(st.one_of(NUMBERS, st.sampled_from([5.0, 4.9999999, 20.0, 5.000001]))),
        min_size=1,
        max_size=20,
    )
)
def test_a_table_in_steps(points: list[tuple[float, ...]]) -> None:
    """Values on the steps of a table, between them, before the first and after the last."""
    _same(STEPS.value_at, points)


@given(st.lists(st.tuples(NUMBERS, NUMBERS), min_size=1, max_size=20))
def test_a_table_of_two_sides(points: list[tuple[float, ...]]) -> None:
    """Values between the points of a table, on them and beyond its ends."""
    _same(GRID.interpolate, points)


def test_a_function_without_an_array_version_gives_none() -> None:
    """A function without an array version gives None."""
    assert array_function(endurance_min) is None
