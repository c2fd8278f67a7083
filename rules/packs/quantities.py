"""Quantities and times as authors write them: `740 degC`, `25 %`, `2 s`.

Takes: a value of a file.  Gives: a number with its unit, or a validation error.
"""

from __future__ import annotations

from typing import NamedTuple

from rules.signals.amounts import comma_hint, parse_amount
from rules.signals.units import compatible, is_known, to_seconds, unit_hint
from rules.source import validation_error

_TIME_EXPECTED = "a number with s or min"
MAX_TIME_S = 3600.0
"""No hold is longer than an hour; a longer one is a slip of the pen."""


class Quantity(NamedTuple):
    """Number with its unit, '1' for none."""

    value: float
    unit: str


def as_text(value: object) -> object:
    """Accept a bare number where text is expected."""
    return str(value) if isinstance(value, int | float) and not isinstance(value, bool) else value


def parse_quantity(value: object) -> Quantity:
    """Parse a quantity such as `740 degC`.

    Raises:
        PydanticCustomError: Not a number with a known unit.
    """
    text = as_text(value)
    amount = parse_amount(text) if isinstance(text, str) else None
    if amount is None:
        raise validation_error(
            f"{value!r} is not a number with its unit", "for example 740 degC", comma_hint(str(text))
        )
    unit = amount.unit or "1"
    if not is_known(unit):
        raise validation_error(
            f"unknown unit {unit}",
            "a unit that Pint knows",
            unit_hint(unit),
        )
    return Quantity(amount.value, unit)


def parse_limit(value: object) -> object:
    """Parse a quantity such as `740 degC`; text that begins with a letter is the name of a limit.

    Raises:
        PydanticCustomError: A number with an unknown unit.
    """
    return value if isinstance(value, str) and value[:1].isalpha() else parse_quantity(value)


def parse_seconds(value: object) -> float:
    """Parse a time such as `2 s` or `1 min`, in seconds.

    Raises:
        PydanticCustomError: Not a time, negative, or longer than an hour.
    """
    text = as_text(value)
    amount = parse_amount(text) if isinstance(text, str) else None
    if amount is None or not is_known(amount.unit or "1"):
        raise validation_error(
            f"{value!r} is not a time", _TIME_EXPECTED, unit_hint(amount.unit) if amount else ""
        )
    if not compatible(amount.unit or "1", "s"):
        raise validation_error(
            f"{value!r} is not a time", _TIME_EXPECTED, "" if amount.unit else f"write {amount.value:g} s"
        )
    seconds = to_seconds(amount.value, amount.unit)
    if not 0.0 <= seconds <= MAX_TIME_S:
        raise validation_error(f"{value} is not a time that can be waited for", "0 s to 60 min")
    return seconds
