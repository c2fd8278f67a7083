"""Equality of measured numbers and directions, for numbers and for arrays."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rules.signals import array_equality, equality
from rules.signals.equality import has_moved, nearly_equal, nearly_same_direction, short_way_deg

NUMBERS = st.one_of(
    st.floats(-1e5, 1e5), st.sampled_from((0.0, 1e-7, -1e-7, 1e-6, 100.0, 100.0000015, 359.9999, 360.0))
)


@pytest.mark.parametrize(
    ("left", "right", "equal"),
    [(100.0, 100.0000015, True), (100.0, 100.001, False), (0.0, 1e-9, False), (-5.0, -5.000001, True)],
)
def test_numbers_are_equal_up_to_the_rounding_of_32_bit_senders(
    left: float, right: float, equal: bool
) -> None:
    """The tolerance is relative to the greater number, so that 0 equals 0 only."""
    assert nearly_equal(left, right) is equal


@pytest.mark.parametrize(
    ("first", "value", "moved"), [(0.0, 1e-9, False), (0.0, 1e-5, True), (50.0, 50.00004, False)]
)
def test_noise_near_zero_is_no_move(first: float, value: float, moved: bool) -> None:
    """Unlike equality, a move has an absolute tolerance too."""
    assert has_moved(first, value) is moved


def test_directions_wrap() -> None:
    """0 and 360 are one direction; a turn from 350 to 10 is 20 to the right, from 10 to 350 is 20 to the left."""
    assert nearly_same_direction(0.0, 359.99999)
    assert not nearly_same_direction(0.0, 359.9)
    assert [short_way_deg(turn) for turn in (10.0 - 350.0, 350.0 - 10.0)] == [20.0, -20.0]
    assert short_way_deg(np.array([-340.0, 340.0])).tolist() == [20.0, -20.0]


@given(st.lists(st.tuples(NUMBERS, NUMBERS), min_size=1, max_size=20))
def test_arrays_decide_as_numbers_do(pairs: list[tuple[float, float]]) -> None:
    """Each comparison of arrays gives what the comparison of its numbers gives."""
    left, right = (np.array(side) for side in zip(*pairs, strict=True))
    for name in ("nearly_equal", "nearly_same_direction", "angle_between_deg"):
        one_by_one = [getattr(equality, name)(*pair) for pair in pairs]
        assert getattr(array_equality, name)(left, right).tolist() == one_by_one
    first = float(left[0])
    moved = [has_moved(first, value) for _, value in pairs]
    assert array_equality.have_moved(first, right).tolist() == moved
