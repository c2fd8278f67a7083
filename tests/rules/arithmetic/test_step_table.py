"""A table in steps gives the value of the step that was reached, and refuses what is before the first."""

from __future__ import annotations

import struct

import pytest

from rules.arithmetic.domain import DomainError
from rules.arithmetic.step_table import StepTable

FLAP_SPEED = StepTable((0.0, 8.1, 20.0), (250.0, 210.0, 175.0))


@pytest.mark.parametrize(
    ("x", "value"), [(0.0, 250.0), (8.0, 250.0), (8.1, 210.0), (19.9, 210.0), (20.0, 175.0), (36.0, 175.0)]
)
def test_a_value_holds_until_the_next_step(x: float, value: float) -> None:
    """Between two steps the value of the first holds, after the last step its own."""
    assert FLAP_SPEED.value_at(x) == value


def test_a_step_is_reached_by_a_number_of_32_bits() -> None:
    """8.1 in 32 bits, a little less than 8.1, has reached the step of 8.1."""
    (sent,) = struct.unpack("f", struct.pack("f", 8.1))
    assert sent < 8.1 + 1e-6
    assert FLAP_SPEED.value_at(8.1 - abs(sent - 8.1)) == 210.0


@pytest.mark.parametrize("x", [-0.1, float("nan")])
def test_before_the_first_step_there_is_no_value(x: float) -> None:
    """Before the first step there is no value."""
    with pytest.raises(DomainError):
        FLAP_SPEED.value_at(x)


@pytest.mark.parametrize(("xs", "values"), [((), ()), ((1.0,), ()), ((1.0, 1.0), (2.0, 3.0))])
def test_steps_that_do_not_rise_are_refused(xs: tuple[float, ...], values: tuple[float, ...]) -> None:
    """Each step has a value, and a greater x than the one before."""
    with pytest.raises(DomainError):
        StepTable(xs, values)
