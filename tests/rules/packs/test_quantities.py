"""Quantities and times in packs."""

from __future__ import annotations

import pytest
from pydantic_core import PydanticCustomError

from rules.packs.quantities import parse_quantity, parse_seconds


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [("740 degC", 740.0, "degC"), ("25 %", 25.0, "%"), ("8 200 kg", 8200.0, "kg"), ("-1.5 deg", -1.5, "deg"), (5, 5.0, "1"), (0.5, 0.5, "1"), ("3", 3.0, "1")],
)  # fmt: skip
def test_quantities(text: object, value: float, unit: str) -> None:
    """A number with a unit must be read; a bare one is a plain number."""
    assert parse_quantity(text) == (value, unit)


@pytest.mark.parametrize(
    "text", ["", "much", "7,5 kg", True, None, [1], {"a": 1}, "5 bananas", "1 2 3 kg", "9**9 kg"]
)
def test_invalid_quantities_are_refused(text: object) -> None:
    """Any other value is refused with a sentence."""
    with pytest.raises(PydanticCustomError):
        parse_quantity(text)


@pytest.mark.parametrize(
    ("text", "span_s"), [("2 s", 2.0), ("1 min", 60.0), ("500 ms", 0.5), ("0 s", 0.0), ("1 h", 3600.0)]
)
def test_times(text: str, span_s: float) -> None:
    """A time must come out in seconds."""
    assert parse_seconds(text) == pytest.approx(span_s)


@pytest.mark.parametrize("text", [2, "2", "2 kg", "-1 s", "61 min", "1:30", "on", None])
def test_invalid_times_are_refused(text: object) -> None:
    """A number without a unit, a negative time, or more than an hour is refused."""
    with pytest.raises(PydanticCustomError):
        parse_seconds(text)
