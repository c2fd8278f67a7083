"""Quantities and times as authors write them: `740 degC`, `25 %`, `2 s`.

Takes: what stands in the file.  Gives: a number in a unit that converts, or an error with a plain sentence.
"""

from __future__ import annotations

from typing import NamedTuple

from rules.signals.amounts import comma_hint, parse_amount
from rules.signals.units import compatible, is_known, suggest, to_seconds
from rules.source import validation_error

_TIME_EXPECTED = "a number with s or min"
MAX_TIME_S = 3600.0
"""No hold is longer than an hour; a longer one is a slip of the pen."""


class Quantity(NamedTuple):
    """A number and its unit, '1' for none."""

    value: float
    unit: str


def as_text(value: object) -> object:
    """Let a bare number stand where text is wanted."""
    return str(value) if isinstance(value, int | float) and not isinstance(value, bool) else value


def parse_quantity(value: object) -> Quantity:
    """Read `740 degC`.

    Raises:
        PydanticCustomError: not a number with a unit that is known.
    """
    text = as_text(value)
    amount = parse_amount(text) if isinstance(text, str) else None
    if amount is None:
        raise validation_error(
            f"{value!r} is not a number with its unit", "for example 740 degC", comma_hint(str(text))
        )
    unit = amount.unit or "1"
    if not is_known(unit):
        near = suggest(unit)
        raise validation_error(
            f"unknown unit {unit}", "a unit that Pint knows", f"did you mean {near}?" if near else ""
        )
    return Quantity(amount.value, unit)


def parse_limit(value: object) -> object:
    """Read `740 degC`; what does not begin with a number is the name of a limit.

    Raises:
        PydanticCustomError: a number with a unit that is not known.
    """
    return value if isinstance(value, str) and value[:1].isalpha() else parse_quantity(value)


def parse_seconds(value: object) -> float:
    """Read a time such as `2 s` or `1 min`, in seconds.

    Raises:
        PydanticCustomError: not a time, negative, or longer than an hour.
    """
    text = as_text(value)
    amount = parse_amount(text) if isinstance(text, str) else None
    if amount is None or not is_known(amount.unit or "1"):
        near = suggest(amount.unit) if amount else ""
        raise validation_error(
            f"{value!r} is not a time", _TIME_EXPECTED, f"did you mean {near}?" if near else ""
        )
    if not compatible(amount.unit or "1", "s"):
        raise validation_error(
            f"{value!r} is not a time", _TIME_EXPECTED, "" if amount.unit else f"write {amount.value:g} s"
        )
    span = to_seconds(amount.value, amount.unit)
    if not 0.0 <= span <= MAX_TIME_S:
        raise validation_error(f"{value} is not a time that one can wait for", "0 s to 60 min")
    return span
