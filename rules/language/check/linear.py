"""Linear terms: the slope and offset of a term over its one variable, and the bounds of terms.

Takes: checked terms.  Gives: `LinearTerm` and bounds.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, replace
from math import inf
from typing import TypeAlias

from rules.language import checked_tree
from rules.signals.model import Signal, SignalKind

VariableKey: TypeAlias = tuple[Hashable, ...]


@dataclass(frozen=True, slots=True)
class LinearTerm:
    """Term as number = slope x value of the key + offset; no key for a constant.

    `low` and `high` bound the key's value; `is_integer` is True for a whole number.
    """

    key: VariableKey | None = None
    slope: float = 0.0
    offset: float = 0.0
    low: float = -inf
    high: float = inf
    is_integer: bool = False

    def at(self, value: float) -> float:
        """Give the number for a value of the key."""
        return self.slope * value + self.offset


def linear_term(term: checked_tree.Term) -> LinearTerm:
    """Convert a term to a linear one; a term over several signals becomes a variable of its own."""
    match term:
        case checked_tree.Constant(value):
            return LinearTerm(offset=value)
        case checked_tree.SignalValue(signal, factor, offset):
            low, high = _signal_range(signal)
            return LinearTerm(
                ("signal", signal.name), factor, offset, low, high, signal.kind is SignalKind.COUNT
            )
        case checked_tree.Scale(inner, factor):
            found = linear_term(inner)
            return replace(found, slope=found.slope * factor, offset=found.offset * factor)
        case checked_tree.Sum(left, right, sign):
            joined = _sum(linear_term(left), linear_term(right), sign)
            if joined is not None:
                return joined
    low, high = bounds(term)
    return LinearTerm(("term", term), 1.0, 0.0, low, high, isinstance(term, checked_tree.EventCount))


def _sum(left: LinearTerm, right: LinearTerm, sign: int) -> LinearTerm | None:
    """Add two linear terms; None where they have different variables."""
    if left.key is not None and right.key is not None and left.key != right.key:
        return None
    moving = left if left.key is not None else right
    return replace(moving, slope=left.slope + sign * right.slope, offset=left.offset + sign * right.offset)


def _signal_range(signal: Signal) -> tuple[float, float]:
    """Give a signal's range; unbounded where the signal has none."""
    return (signal.low, signal.high) if signal.low < signal.high else (-inf, inf)


def bounds(term: checked_tree.Term) -> tuple[float, float]:
    """Give the minimum and maximum of a term, in its unit; infinite where it is unbounded."""
    match term:
        case checked_tree.Constant(value):
            return value, value
        case checked_tree.SignalValue(signal, factor, offset):
            low, high = _signal_range(signal)
            return _ordered(low * factor + offset, high * factor + offset)
        case checked_tree.Scale(inner, factor):
            low, high = bounds(inner)
            return _ordered(low * factor, high * factor)
        case checked_tree.Sum(left, right, sign):
            (low, high), (right_low, right_high) = bounds(left), bounds(right)
            return (low + right_low, high + right_high) if sign > 0 else (low - right_high, high - right_low)
        case checked_tree.Among(function, terms):
            return _bounds_among(function, [bounds(each) for each in terms])
        case checked_tree.Size(inner):
            return _size_bounds(*bounds(inner))
        case checked_tree.Window():
            return _window_bounds(term)
        case checked_tree.EventCount():
            return 0.0, inf


def _bounds_among(function: str, ends: list[tuple[float, float]]) -> tuple[float, float]:
    """Give the bounds of the highest, lowest or average of terms with these bounds."""
    lows, highs = [low for low, _ in ends], [high for _, high in ends]
    if function == "average":
        return sum(lows) / len(ends), sum(highs) / len(ends)
    pick = max if function == "highest" else min
    return pick(lows), pick(highs)


def _size_bounds(low: float, high: float) -> tuple[float, float]:
    """Give the bounds of a number without its sign."""
    return max(low, -high, 0.0), max(-low, high)


def _window_bounds(term: checked_tree.Window) -> tuple[float, float]:
    """Give the bounds of a window: a change is at most the whole range, a rate that per window length."""
    low, high = bounds(term.term)
    if term.function in ("highest", "lowest", "average"):
        return low, high
    maximum = (high - low) / (term.seconds if term.function == "rate" else 1.0)
    return -maximum, maximum


def _ordered(one: float, other: float) -> tuple[float, float]:
    return (one, other) if one <= other else (other, one)
