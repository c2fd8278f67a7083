"""Domain checks of the arithmetic: a negative mass, a Mach number of two, a year outside the model.

Takes: numbers as given.  Gives: the same numbers, or `DomainError`.
"""

from __future__ import annotations

import math


class DomainError(ValueError):
    """Number outside a function's domain; `what` and `expected` are plain text."""

    def __init__(self, what: str, expected: str) -> None:
        """Store both parts; the message joins them."""
        self.what = what
        self.expected = expected
        super().__init__(f"{what}, expected {expected}")


def require_within(name: str, value: float, low: float, high: float) -> float:
    """Give the value, if it is a number from `low` to `high`.

    Args:
        name: Name of the value in messages, with its unit: "mass in kg".
        value: The number.
        low: The minimum.
        high: The maximum.

    Raises:
        DomainError: It lies outside, or is not a number.
    """
    if not low <= value <= high:
        raise DomainError(f"{name} of {value:g}", f"{low:g} to {high:g}")
    return value


def require_positive(name: str, value: float) -> float:
    """Give the value, if it is finite and greater than 0; else `DomainError`."""
    if not 0.0 < value < math.inf:
        raise DomainError(f"{name} of {value:g}", "more than 0")
    return value


def require_not_negative(name: str, value: float) -> float:
    """Give the value, if it is finite and not negative; else `DomainError`."""
    if not 0.0 <= value < math.inf:
        raise DomainError(f"{name} of {value:g}", "0 or more")
    return value
