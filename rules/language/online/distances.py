"""Measures how far a comparison of numbers is from a change of its truth, and how much each signal brings it nearer.

    size of (fuel.left - fuel.right) <= 500 kg, with 3 900 kg left and 3 460 kg right

    distance     60 kg, since the difference is 440 kg
    slopes       1 for each tank: a kilogram more or less there changes the difference by a kilogram at most

Takes: comparisons.  Gives: `distance_reader`, `slopes_of`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from rules.language.checked_tree import (
    Between,
    Constant,
    Relation,
    Scale,
    SignalValue,
    Term,
    WithinTolerance,
)
from rules.language.online.closures import ORDER_TESTS, Reader
from rules.language.traversal import children, terms_of
from rules.signals.equality import RELATIVE_TOLERANCE, angle_between_deg

NumberComparison: TypeAlias = Relation | Between | WithinTolerance
ReaderOf: TypeAlias = Callable[[Term], Reader]
CONSTANTS = ""
"""Key of the constants in slopes: their size, from which the rounding of a sum follows."""


def slopes_of(comparison: NumberComparison) -> dict[str, float]:
    """Give by name of signal the most by which the compared numbers change while that signal changes by one."""
    slopes = {CONSTANTS: 0.0}
    for term in terms_of(comparison):
        _add_slopes(term, 1.0, slopes)
    return slopes


def _add_slopes(term: Term, factor: float, slopes: dict[str, float]) -> None:
    """Add the slopes of a term; sums, sizes and the highest of some are no steeper than their parts together."""
    if isinstance(term, Constant):
        slopes[CONSTANTS] += abs(factor * term.value)
    elif isinstance(term, SignalValue):
        slopes[CONSTANTS] += abs(factor * term.offset)
        slopes[term.signal.name] = slopes.get(term.signal.name, 0.0) + abs(factor * term.factor)
    else:
        inner = factor * term.factor if isinstance(term, Scale) else factor
        for part in children(term):
            _add_slopes(part, inner, slopes)  # type: ignore[arg-type]  # the parts of these terms are terms


def distance_reader(comparison: NumberComparison, reader: ReaderOf) -> Reader:
    """Make a closure that gives the present distance; None where the truth is unknown.

    Args:
        comparison: The comparison.
        reader: Makes the closure that reads a term.
    """
    if isinstance(comparison, WithinTolerance):
        return _from_tolerance(comparison, reader)
    if isinstance(comparison, Between):
        return _from_ends(comparison, reader)
    return (
        _from_equality(comparison, reader)
        if comparison.op not in ORDER_TESTS
        else _from_other(comparison, reader)
    )


def _apart(comparison: NumberComparison) -> Callable[[float, float], float]:
    """Give the function for the size of a difference."""
    return angle_between_deg if comparison.on_circle else lambda one, other: abs(one - other)


def _from_other(comparison: Relation, reader: ReaderOf) -> Reader:
    left, right = reader(comparison.left), reader(comparison.right)

    def distance() -> float | None:
        one, other = left(), right()
        return None if one is None or other is None else abs(one - other)

    return distance


def _from_equality(comparison: Relation, reader: ReaderOf) -> Reader:
    """Distance from the end of the tolerance of `=`, which grows with the numbers (by far less than they do)."""
    left, right, apart = reader(comparison.left), reader(comparison.right), _apart(comparison)

    def distance() -> float | None:
        one, other = left(), right()
        if one is None or other is None:
            return None
        return abs(apart(one, other) - RELATIVE_TOLERANCE * max(abs(one), abs(other)))

    return distance


def _from_tolerance(comparison: WithinTolerance, reader: ReaderOf) -> Reader:
    term, target, width = reader(comparison.term), reader(comparison.target), reader(comparison.tolerance)
    apart = _apart(comparison)

    def distance() -> float | None:
        one, other, tolerance = term(), target(), width()
        if one is None or other is None or tolerance is None:
            return None
        return abs(apart(one, other) - tolerance)

    return distance


def _from_ends(comparison: Between, reader: ReaderOf) -> Reader:
    """Distance from the nearer end; on a circle also that between the ends, since a sector turns over where they meet."""
    term, low, high, apart = (
        reader(comparison.term),
        reader(comparison.low),
        reader(comparison.high),
        _apart(comparison),
    )
    fixed = not comparison.on_circle or (
        isinstance(comparison.low, Constant) and isinstance(comparison.high, Constant)
    )

    def distance() -> float | None:
        value, least, most = term(), low(), high()
        if value is None or least is None or most is None:
            return None
        nearer = min(apart(value, least), apart(value, most))
        return nearer if fixed else min(nearer, apart(least, most))

    return distance
