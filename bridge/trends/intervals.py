"""Counts with their intervals: small numbers are not to be taken for large ones.

Takes: counts.  Gives: intervals at 95 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import comb, sqrt

import msgspec

Z_95 = 1.959963984540054
"""The 97.5 % quantile of the normal distribution."""
LEVEL = 0.95


class Share(msgspec.Struct, frozen=True):
    """So many of so many, with the interval in which the share lies."""

    count: int = msgspec.field(name="count")
    of: int = msgspec.field(name="of")
    low: float = msgspec.field(name="low")
    high: float = msgspec.field(name="high")

    @property
    def value(self) -> float:
        """The share itself; 0 of nothing."""
        return self.count / self.of if self.of else 0.0


def share_of(count: int, of: int) -> Share:
    """A share with its score interval.

    Args:
        count: how many were so.
        of: how many could have been, at least `count`.

    Returns:
        The interval of Wilson, Journal of the American Statistical Association 22 (1927), 209; the whole of 0 to 1
        where there were none.
    """
    if of == 0:
        return Share(0, 0, 0.0, 1.0)
    p, z2 = count / of, Z_95 * Z_95
    middle = (p + z2 / (2 * of)) / (1 + z2 / of)
    half = Z_95 / (1 + z2 / of) * sqrt(p * (1 - p) / of + z2 / (4 * of * of))
    return Share(count, of, max(0.0, middle - half), min(1.0, middle + half))


class Spread(msgspec.Struct, frozen=True):
    """The median of some values with its interval (None where there are too few for one), and the quartiles."""

    count: int = msgspec.field(name="count")
    low_quartile: float = msgspec.field(name="low_quartile")
    median: float = msgspec.field(name="median")
    high_quartile: float = msgspec.field(name="high_quartile")
    low: float | None = msgspec.field(name="low")
    high: float | None = msgspec.field(name="high")


def spread_of(values: Sequence[float]) -> Spread | None:
    """How values are spread; None where there is none.

    Args:
        values: in any order and unit.

    Returns:
        Quartiles by linear interpolation (definition 7 of Hyndman and Fan, The American Statistician 50 (1996), 361), and the
        interval of the median from order statistics (Conover, Practical Nonparametric Statistics, chapter 3; from memory).
    """
    if not values:
        return None
    ordered = sorted(values)
    low, high = _interval_of_median(ordered)
    return Spread(
        len(ordered), _quantile(ordered, 0.25), _quantile(ordered, 0.5), _quantile(ordered, 0.75), low, high
    )


def _quantile(ordered: Sequence[float], share: float) -> float:
    place = share * (len(ordered) - 1)
    below = int(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])


def _interval_of_median(ordered: Sequence[float]) -> tuple[float | None, float | None]:
    """The narrowest pair of values, as many from either end, between which the median lies with 95 %."""
    many, tail, left_out = len(ordered), 0.0, 0
    for below in range(many // 2):
        tail += comb(many, below) / 2.0**many if many < 1000 else 0.0
        if 2 * tail > 1 - LEVEL:
            break
        left_out = below + 1
    if many >= 1000:  # the normal approximation of the binomial distribution
        left_out = int(many / 2 - Z_95 * sqrt(many) / 2)
    if not left_out:
        return None, None
    return ordered[left_out - 1], ordered[many - left_out]
