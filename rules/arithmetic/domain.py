"""What no sum can be made of: a mass below nothing, a Mach number of two, a date before the model's.

Takes: numbers as they came.  Gives: the same numbers, or `Impossible`.
"""

from __future__ import annotations

import math


class DomainError(ValueError):
    """A number for which the function has no answer; `what` and `expected` are plain."""

    def __init__(self, what: str, expected: str) -> None:
        """Keep both parts; the message joins them."""
        self.what = what
        self.expected = expected
        super().__init__(f"{what}, expected {expected}")


def require_within(name: str, value: float, low: float, high: float) -> float:
    """The value, if it is a number from `low` to `high`.

    Args:
        name: How the value is said, with its unit: "mass in kg".
        value: The number.
        low: The least that will do.
        high: The most that will do.

    Raises:
        Impossible: It lies outside, or is not a number.
    """
    if not low <= value <= high:
        raise DomainError(f"{name} of {value:g}", f"{low:g} to {high:g}")
    return value


def require_positive(name: str, value: float) -> float:
    """The value, if it is finite and more than nothing; else `Impossible`."""
    if not 0.0 < value < math.inf:
        raise DomainError(f"{name} of {value:g}", "more than 0")
    return value


def require_not_negative(name: str, value: float) -> float:
    """The value, if it is finite and not below nothing; else `Impossible`."""
    if not 0.0 <= value < math.inf:
        raise DomainError(f"{name} of {value:g}", "0 or more")
    return value
