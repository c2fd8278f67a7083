"""Lookup tables with linear interpolation over one quantity or two.

Takes: points in rising order.  Gives: the value between them; `DomainError` beyond their ends.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from rules.arithmetic.domain import DomainError, require_within


@dataclass(frozen=True, slots=True)
class LookupTable:
    """Values over `xs`, and over `ys` where the table has two sides.

    `rows[i][k]` is the value at `xs[i]` and `ys[k]`; with one side `ys` is empty and each row has one value.
    Source: linear interpolation, as charts of a flight manual are read; the pack names the source of the data.
    """

    xs: tuple[float, ...]
    ys: tuple[float, ...]
    rows: tuple[tuple[float, ...], ...]

    def __post_init__(self) -> None:
        """Refuse sides that do not rise, and rows of the wrong length."""
        for side in (self.xs, self.ys):
            if any(later <= earlier for earlier, later in pairwise(side)):
                raise DomainError(
                    "a side of a table that does not rise", "each value greater than the one before"
                )
        if not self.xs or len(self.rows) != len(self.xs):
            raise DomainError(f"{len(self.rows)} rows for {len(self.xs)} values", "one row for each")
        width = max(len(self.ys), 1)
        if any(len(row) != width for row in self.rows):
            raise DomainError("a row of the wrong length", f"{width} value{'s' * (width != 1)} in each")

    def interpolate(self, x: float, y: float = 0.0) -> float:
        """Interpolate the value at a point; `DomainError` beyond the ends."""
        first, share = _between(self.xs, x)
        low, high = self.rows[first], self.rows[min(first + 1, len(self.rows) - 1)]
        if not self.ys:
            return low[0] + share * (high[0] - low[0])
        column, across = _between(self.ys, y)
        beside = min(column + 1, len(self.ys) - 1)
        start = low[column] + across * (low[beside] - low[column])
        end = high[column] + across * (high[beside] - high[column])
        return start + share * (end - start)


def _between(side: Sequence[float], value: float) -> tuple[int, float]:
    """Give the index of the point before a value, and the fraction of the way to the next, 0 to 1."""
    if not side[0] <= value <= side[-1]:
        require_within("value", value, side[0], side[-1])  # raises, with the text
    if len(side) == 1:
        return 0, 0.0
    first = min(bisect_right(side, value), len(side) - 1) - 1
    start = side[first]
    return first, (value - start) / (side[first + 1] - start)
