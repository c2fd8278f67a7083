"""Calculates confidence intervals of shares and medians, so that small counts are not overrated.

Takes: counts and values.  Gives: intervals at 95 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import comb, sqrt

import msgspec

Z_95 = 1.959963984540054
"""The 97.5 % quantile of the normal distribution."""
LEVEL = 0.95


class Share(msgspec.Struct, frozen=True):
    """A count of a total, with the confidence interval of the share."""

    count: int = msgspec.field(name="count")
    of: int = msgspec.field(name="of")
    low: float = msgspec.field(name="low")
    high: float = msgspec.field(name="high")

    @property
    def value(self) -> float:
        """The share itself; 0 for a total of 0."""
        return self.count / self.of if self.of else 0.0


def share_of(count: int, of: int) -> Share:
    """Calculate a share with its score interval.

    Args:
        count: The number of hits.
        of: The total, at least `count`.

    Returns:
        The interval of Wilson, Journal of the American Statistical Association 22 (1927), 209; 0 to 1 for a total of 0.
    """
    if of == 0:
        return Share(0, 0, 0.0, 1.0)
    p, z2 = count / of, Z_95 * Z_95
    middle = (p + z2 / (2 * of)) / (1 + z2 / of)
    half = Z_95 / (1 + z2 / of) * sqrt(p * (1 - p) / of + z2 / (4 * of * of))
    return Share(count, of, max(0.0, middle - half), min(1.0, middle + half))


class Spread(msgspec.Struct, frozen=True):
    """The median with its interval (None if there are too few values), and the quartiles."""

    count: int = msgspec.field(name="count")
    low_quartile: float = msgspec.field(name="low_quartile")
    median: float = msgspec.field(name="median")
    high_quartile: float = msgspec.field(name="high_quartile")
    low: float | None = msgspec.field(name="low")
    high: float | None = msgspec.field(name="high")


def spread_of(values: Sequence[float]) -> Spread | None:
    """Calculate the spread of values; None without values.

    Args:
        values: Values in any order and unit.

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
    """Return the narrowest pair of order statistics, equally far from both ends, that contains the median at 95 %.

    The chance that at most k of n values are below the median is binomial with p = 1/2.  For n = 6, values x1 .. x6:

        k = 0   1/64 = 0.016, both ends 0.031 <= 0.05: [x1, x6]
        k = 1   7/64 = 0.109, both ends 0.219 >  0.05: [x2, x5] is too narrow
    """
    count, tail, left_out = len(ordered), 0.0, 0
    for below in range(count // 2):
        tail += comb(count, below) / 2.0**count if count < 1000 else 0.0
        if 2 * tail > 1 - LEVEL:
            break
        left_out = below + 1
    if count >= 1000:  # the normal approximation of the binomial distribution
        left_out = int(count / 2 - Z_95 * sqrt(count) / 2)
    if not left_out:
        return None, None
    return ordered[left_out - 1], ordered[count - left_out]
