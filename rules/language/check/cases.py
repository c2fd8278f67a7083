"""Chooses a few values for each signal of a condition that represent all its values, to test whether it can be met.

A comparison depends on variables (signals, windows, pairs of terms) and changes only at the boundaries of each.  One
value between two boundaries, and each boundary with its nearest neighbours, represent all values:

    n1 < 20 % and not n1 >= 22 %, n1 in 0..110 %

    0        20        22                   110
    |---------|---------|--------------------|
    *    *   ***   *   ***        *          *     values to try

A condition over several variables is tried over all combinations of their values.

Takes: comparisons.  Gives: `Comparison`, and the values to try for each variable.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, isfinite
from typing import Any, TypeAlias

from rules.language import checked_tree
from rules.language.check.linear import LinearTerm, VariableKey, bounds, linear_term
from rules.signals.equality import FULL_CIRCLE_DEG, RELATIVE_TOLERANCE, angle_between_deg, nearly_equal
from rules.signals.model import Signal

Case: TypeAlias = Mapping[VariableKey, Any]
CaseTest: TypeAlias = Callable[[Case], bool]

OTHER_WORD = "\0"
"""Represents every word of a text that no comparison names."""

_NEIGHBOUR = 1e-9
"""Relative distance of the neighbours of a boundary; large enough that rounding merges none with it."""


@dataclass(frozen=True, slots=True)
class Variable:
    """Variable of a comparison; a number has a `term` with bounds, all other values are listed in `boundaries`."""

    key: VariableKey
    boundaries: tuple[Hashable, ...]
    term: LinearTerm | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Comparison as a test of values of its variables."""

    variables: tuple[Variable, ...]
    test: CaseTest

    @property
    def keys(self) -> tuple[VariableKey, ...]:
        """Keys of its variables."""
        return tuple(variable.key for variable in self.variables)


def comparison_of(condition: checked_tree.Condition) -> Comparison:
    """Convert a comparison of the checked tree."""
    match condition:
        case checked_tree.Relation():
            return _relation(condition)
        case checked_tree.Between():
            return _between(condition)
        case checked_tree.WithinTolerance():
            return _close(condition)
        case checked_tree.WordIs(signal, words, negated):
            key: VariableKey = ("signal", signal.name)
            values = signal.words or (*words, OTHER_WORD)
            return Comparison((Variable(key, values),), lambda case: (case[key] in words) is not negated)
        case checked_tree.SameWord(left, right, negated):
            return _same_word(left, right, negated=negated)
        case _:
            raise AssertionError(condition)


def free_comparison(key: VariableKey, truths: Sequence[bool] = (False, True)) -> Comparison:
    """Make a comparison of which only the possible truths are known."""
    return Comparison((Variable(key, tuple(truths)),), lambda case: bool(case[key]))


# -- words -------------------------------------------------------------------------------------------------


def _same_word(left: Signal, right: Signal, *, negated: bool) -> Comparison:
    if left.name == right.name:
        return Comparison((), lambda _: not negated)
    if not (left.words and right.words):
        return free_comparison(("same", left.name, right.name, negated))
    one: VariableKey = ("signal", left.name)
    other: VariableKey = ("signal", right.name)
    variables = (Variable(one, left.words), Variable(other, right.words))
    return Comparison(variables, lambda case: (case[one] == case[other]) is not negated)


# -- numbers -----------------------------------------------------------------------------------------------

_TESTS: Mapping[str, Callable[[float, float], bool]] = {
    "=": nearly_equal,
    "!=": lambda left, right: not nearly_equal(left, right),
    "<": lambda left, right: left < right,
    "<=": lambda left, right: left <= right,
    ">": lambda left, right: left > right,
    ">=": lambda left, right: left >= right,
}


def _relation(node: checked_tree.Relation) -> Comparison:
    left, right = linear_term(node.left), linear_term(node.right)
    if left.key is not None and right.key is not None and left.key != right.key:
        return free_comparison(("circle", node.left, node.right, node.op)) if node.on_circle else _pair(node)
    if node.on_circle:
        wanted = node.op == "="
        return _numeric(
            left,
            right,
            (0.0,),
            lambda one, other: (
                (angle_between_deg(one, other) <= RELATIVE_TOLERANCE * FULL_CIRCLE_DEG) is wanted
            ),
            circle=True,
        )
    return _numeric(left, right, (0.0,), _TESTS[node.op])


def has_constant_ends(node: checked_tree.Between) -> bool:
    """Check that both ends of a range are constants."""
    return isinstance(node.low, checked_tree.Constant) and isinstance(node.high, checked_tree.Constant)


def _between(node: checked_tree.Between) -> Comparison:
    """Make a comparison of a range with constant ends; of directions with other ends only its two truths are known."""
    term, zero = linear_term(node.term), LinearTerm()
    if not (isinstance(node.low, checked_tree.Constant) and isinstance(node.high, checked_tree.Constant)):
        return free_comparison(("range", node))
    low, high = node.low.value, node.high.value
    if node.on_circle:
        width = (high - low) % FULL_CIRCLE_DEG
        return _numeric(
            term, zero, (low, high), lambda one, _: (one - low) % FULL_CIRCLE_DEG <= width, circle=True
        )
    return _numeric(term, zero, (low, high), lambda one, _: low <= one <= high)


def _close(node: checked_tree.WithinTolerance) -> Comparison:
    term, target = linear_term(node.term), linear_term(node.target)
    fixed = isinstance(node.tolerance, checked_tree.Constant)
    if not fixed or (term.key is not None and target.key is not None and term.key != target.key):
        return free_comparison(("near", node), _near_truths(node))
    width = bounds(node.tolerance)[0]
    if node.on_circle:
        return _numeric(
            term,
            target,
            (-width, width),
            lambda one, other: angle_between_deg(one, other) <= width,
            circle=True,
        )
    return _numeric(term, target, (-width, width), lambda one, other: abs(one - other) <= width)


def _near_truths(node: checked_tree.WithinTolerance) -> tuple[bool, ...]:
    """Give the possible truths of a tolerance between two terms, from their bounds alone."""
    if node.on_circle:
        return (False, True)
    (low, high), (target_low, target_high) = bounds(node.term), bounds(node.target)
    gap, reach = max(low - target_high, target_low - high, 0.0), max(high - target_low, target_high - low)
    narrowest, widest = bounds(node.tolerance)
    return tuple(truth for truth, possible in ((False, reach > narrowest), (True, gap <= widest)) if possible)


def _numeric(
    left: LinearTerm,
    right: LinearTerm,
    differences: tuple[float, ...],
    test: Callable[[float, float], bool],
    *,
    circle: bool = False,
) -> Comparison:
    """Make a comparison with at most one variable; its truth changes where left less right is one of `differences`."""
    moving = left if left.key is not None else right
    key = moving.key
    if key is None:
        truth = test(left.offset, right.offset)
        return Comparison((), lambda _: truth)
    slope = left.slope - right.slope
    boundaries: list[float] = []
    for gap in differences if slope else ():
        value = (gap + right.offset - left.offset) / slope
        # The tolerance of `=` is relative to both numbers, which an offset can make much greater than the value.
        slack = 1.1 * RELATIVE_TOLERANCE * max(abs(left.at(value)), abs(right.at(value)), 1e-12) / abs(slope)
        boundaries.extend((value - slack, value, value + slack))
    if circle:
        boundaries = [boundary % FULL_CIRCLE_DEG for boundary in boundaries]
    variable = Variable(key, tuple(boundaries), moving)
    return Comparison((variable,), lambda case: test(left.at(case[key]), right.at(case[key])))


def _pair(node: checked_tree.Relation) -> Comparison:
    """Make a comparison of two terms by their order: clearly less, less but nearly equal, equal, and so on."""
    swapped = repr(node.left) > repr(node.right)
    one, other = (node.right, node.left) if swapped else (node.left, node.right)
    key: VariableKey = ("pair", one, other)
    side = -1 if swapped else 1
    outcome: Mapping[str, Callable[[int], bool]] = {
        "=": lambda order: abs(order) <= 1,
        "!=": lambda order: abs(order) > 1,
        "<": lambda order: order < 0,
        "<=": lambda order: order <= 0,
        ">": lambda order: order > 0,
        ">=": lambda order: order >= 0,
    }
    test = outcome[node.op]
    return Comparison((Variable(key, _possible_orders(one, other)),), lambda case: test(side * case[key]))


def _possible_orders(one: checked_tree.Term, other: checked_tree.Term) -> tuple[int, ...]:
    """Give the orders of two terms that their bounds allow."""
    (low, high), (other_low, other_high) = bounds(one), bounds(other)
    overlap = low <= other_high and other_low <= high
    nearly = overlap or nearly_equal(high, other_low) or nearly_equal(low, other_high)
    allowed = {
        -2: low < other_high,
        -1: low < other_high and nearly,
        0: overlap,
        1: high > other_low and nearly,
        2: high > other_low,
    }
    return tuple(order for order, possible in allowed.items() if possible)


# -- the values to try of one variable -----------------------------------------------------------------------------------


def trial_values(key: VariableKey, comparisons: Sequence[Comparison]) -> list[Hashable]:
    """Give the values of a variable to try: one for each pattern of truths of the comparisons of that variable alone."""
    variables = [
        variable for comparison in comparisons for variable in comparison.variables if variable.key == key
    ]
    moving = variables[0].term
    boundaries = list(dict.fromkeys(boundary for variable in variables for boundary in variable.boundaries))
    if moving is None:
        return boundaries
    alone = [comparison for comparison in comparisons if comparison.keys == (key,)]
    numbers = _values(moving, [boundary for boundary in boundaries if isinstance(boundary, float)])
    return list(
        {tuple(comparison.test({key: value}) for comparison in alone): value for value in numbers}.values()
    )


def _values(moving: LinearTerm, boundaries: Sequence[float]) -> list[float]:
    """Give the boundaries, their neighbours, the ends, and the middle between each two of them."""
    inside = [boundary for boundary in boundaries if moving.low <= boundary <= moving.high]
    low = moving.low if isfinite(moving.low) else min(inside, default=0.0) - 1
    high = moving.high if isfinite(moving.high) else max(inside, default=0.0) + 1
    near = [boundary + side * _NEIGHBOUR * abs(boundary) for boundary in inside for side in (-1, 0, 1)]
    points = sorted({low, high, *(point for point in near if low <= point <= high)})
    points += [(one + other) / 2 for one, other in pairwise(points)]
    if not moving.is_integer:
        return points
    whole = {float(step) for point in points for step in (floor(point), ceil(point))}
    return sorted(number for number in whole if low <= number <= high)
