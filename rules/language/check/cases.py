"""Cases: the values of a signal that tell all of a condition's comparisons apart.

A comparison is a knot: it hangs on strands (a signal, a window, a pair of terms) and changes only at
the marks of each.  One value from each stretch between marks, and each mark with its nearest
neighbours, stand for all values.

Takes: comparisons.  Gives: knots, the bounds of terms, and the cases to try.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor, isfinite
from typing import Any, TypeAlias

from rules.language import checked_tree
from rules.language.check.linear import LinearTerm, VariableKey, bounds, linear_term
from rules.language.equality import FULL_CIRCLE_DEG, RELATIVE_TOLERANCE, angle_between_deg, nearly_equal
from rules.signals.model import Signal

Case: TypeAlias = Mapping[VariableKey, Any]
CaseTest: TypeAlias = Callable[[Case], bool]

OTHER_WORD = "\0"
"""Stands for every word of a text that no comparison names."""

_NEIGHBOUR = 1e-9
"""How near to a mark its neighbours are tried, relative: no rounding hides a case between them."""


@dataclass(frozen=True, slots=True)
class Variable:
    """One thing that a comparison hangs on; numbers have bounds, all else is listed in `marks`."""

    key: VariableKey
    boundaries: tuple[Hashable, ...]
    term: LinearTerm | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """A comparison as far as trying out goes."""

    variables: tuple[Variable, ...]
    test: CaseTest

    @property
    def keys(self) -> tuple[VariableKey, ...]:
        """What it hangs on."""
        return tuple(strand.key for strand in self.variables)


def comparison_of(condition: checked_tree.Condition) -> Comparison:
    """The knot of a comparison."""
    match condition:
        case checked_tree.Relation():
            return _relation(condition)
        case checked_tree.Between():
            return _between(condition)
        case checked_tree.WithinTolerance():
            return _close(condition)
        case checked_tree.WordIs(signal, words, negated):
            key: VariableKey = ("signal", signal.name)
            marks = signal.words or (*words, OTHER_WORD)
            return Comparison((Variable(key, marks),), lambda case: (case[key] in words) is not negated)
        case checked_tree.SameWord(left, right, negated):
            return _same_word(left, right, negated=negated)
        case _:
            raise AssertionError(condition)


def free_comparison(key: VariableKey, truths: Sequence[bool] = (False, True)) -> Comparison:
    """A knot of which only the possible truths are known."""
    return Comparison((Variable(key, tuple(truths)),), lambda case: bool(case[key]))


# -- words -------------------------------------------------------------------------------------------------


def _same_word(left: Signal, right: Signal, *, negated: bool) -> Comparison:
    if left.name == right.name:
        return Comparison((), lambda _: not negated)
    if not (left.words and right.words):
        return free_comparison(("same", left.name, right.name, negated))
    one: VariableKey = ("signal", left.name)
    other: VariableKey = ("signal", right.name)
    strands = (Variable(one, left.words), Variable(other, right.words))
    return Comparison(strands, lambda case: (case[one] == case[other]) is not negated)


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


def _between(node: checked_tree.Between) -> Comparison:
    term, zero = linear_term(node.term), LinearTerm()
    low, high = node.low, node.high
    if node.on_circle:
        width = (high - low) % FULL_CIRCLE_DEG
        return _numeric(
            term, zero, (low, high), lambda one, _: (one - low) % FULL_CIRCLE_DEG <= width, circle=True
        )
    return _numeric(term, zero, (low, high), lambda one, _: low <= one <= high)


def _close(node: checked_tree.WithinTolerance) -> Comparison:
    term, target, width = linear_term(node.term), linear_term(node.target), node.tolerance
    if term.key is not None and target.key is not None and term.key != target.key:
        return free_comparison(("near", node.term, node.target, width), _near_truths(node))
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
    """What a tolerance between two terms can be, by their bounds alone."""
    if node.on_circle:
        return (False, True)
    (low, high), (least, most) = bounds(node.term), bounds(node.target)
    gap, reach = max(low - most, least - high, 0.0), max(high - least, most - low)
    return tuple(
        truth
        for truth, possible in ((False, reach > node.tolerance), (True, gap <= node.tolerance))
        if possible
    )


def _numeric(
    left: LinearTerm,
    right: LinearTerm,
    differences: tuple[float, ...],
    test: Callable[[float, float], bool],
    *,
    circle: bool = False,
) -> Comparison:
    """A comparison that hangs on one number at most; it changes where left and right are `apart`."""
    moving = left if left.key is not None else right
    key = moving.key
    if key is None:
        truth = test(left.offset, right.offset)
        return Comparison((), lambda _: truth)
    slope = left.slope - right.slope
    marks: list[float] = []
    for gap in differences if slope else ():
        value = (gap + right.offset - left.offset) / slope
        # `=` forgives a part of the numbers themselves, which an offset can make much greater than the value.
        slack = 1.1 * RELATIVE_TOLERANCE * max(abs(left.at(value)), abs(right.at(value)), 1e-12) / abs(slope)
        marks.extend((value - slack, value, value + slack))
    if circle:
        marks = [mark % FULL_CIRCLE_DEG for mark in marks]
    strand = Variable(key, tuple(marks), moving)
    return Comparison((strand,), lambda case: test(left.at(case[key]), right.at(case[key])))


def _pair(node: checked_tree.Relation) -> Comparison:
    """Two numbers of which only the order counts: clearly less, less but `=` holds, the same, and so on."""
    turned = repr(node.left) > repr(node.right)
    one, other = (node.right, node.left) if turned else (node.left, node.right)
    key: VariableKey = ("pair", one, other)
    side = -1 if turned else 1
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
    """Which orders of two numbers their bounds allow."""
    (low, high), (least, most) = bounds(one), bounds(other)
    meet = low <= most and least <= high
    nearly = meet or nearly_equal(high, least) or nearly_equal(low, most)
    allowed = {
        -2: low < most,
        -1: low < most and nearly,
        0: meet,
        1: high > least and nearly,
        2: high > least,
    }
    return tuple(order for order, possible in allowed.items() if possible)


# -- the cases of one key ------------------------------------------------------------------------------------


def trial_values(key: VariableKey, comparisons: Sequence[Comparison]) -> list[Hashable]:
    """The values of a key to try: no two of them look alike to every knot that hangs on it alone."""
    strands = [strand for knot in comparisons for strand in knot.variables if strand.key == key]
    moving = strands[0].term
    marks = list(dict.fromkeys(mark for strand in strands for mark in strand.boundaries))
    if moving is None:
        return marks
    alone = [knot for knot in comparisons if knot.keys == (key,)]
    numbers = _values(moving, [mark for mark in marks if isinstance(mark, float)])
    return list({tuple(knot.test({key: value}) for knot in alone): value for value in numbers}.values())


def _values(moving: LinearTerm, boundaries: Sequence[float]) -> list[float]:
    """The marks, their neighbours, the ends, and the middle of each stretch."""
    inside = [mark for mark in boundaries if moving.low <= mark <= moving.high]
    low = moving.low if isfinite(moving.low) else min(inside, default=0.0) - 1
    high = moving.high if isfinite(moving.high) else max(inside, default=0.0) + 1
    near = [mark + side * _NEIGHBOUR * abs(mark) for mark in inside for side in (-1, 0, 1)]
    points = sorted({low, high, *(point for point in near if low <= point <= high)})
    points += [(one + other) / 2 for one, other in pairwise(points)]
    if not moving.is_integer:
        return points
    whole = {float(step) for point in points for step in (floor(point), ceil(point))}
    return sorted(number for number in whole if low <= number <= high)
