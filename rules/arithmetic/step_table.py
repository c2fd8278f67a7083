"""Table in steps: each value holds from its x until the next.

Takes: steps in rising order of x.  Gives: the value at an x; `DomainError` before the first step.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise

from rules.arithmetic.domain import DomainError, require_within

SLACK = 1e-6
"""Relative distance below a step at which its value holds already; a 32-bit sender rounds 0.1 by as much."""


@dataclass(frozen=True, slots=True)
class StepTable:
    """Values over `xs`: `values[i]` from `xs[i]` until `xs[i + 1]`, the last without end.

    Source: limits by configuration, as a flight manual lists them; the pack names the source of the data.
    """

    xs: tuple[float, ...]
    values: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse steps that do not rise."""
        if not self.xs or len(self.xs) != len(self.values):
            raise DomainError("steps without a value for each", "[x, value] for each step")
        if any(later <= earlier for earlier, later in pairwise(self.xs)):
            raise DomainError("steps that do not rise", "each x greater than the one before")

    @property
    def thresholds(self) -> tuple[float, ...]:
        """Give the numbers from which the steps hold."""
        return tuple(x - SLACK * abs(x) for x in self.xs)

    def value_at(self, x: float) -> float:
        """Give the value of the step that x has reached; `DomainError` before the first."""
        thresholds = self.thresholds
        require_within("value", x, thresholds[0], float("inf"))
        return self.values[bisect_right(thresholds, x) - 1]
