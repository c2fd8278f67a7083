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

from rules.language import checked
from rules.language.check.lines import (
    FULL_CIRCLE_DEG,
    SAME_RELATIVE,
    Key,
    Line,
    apart_deg,
    bounds,
    line,
    same,
)
from rules.signals.model import Signal

Case: TypeAlias = Mapping[Key, Any]
Holds: TypeAlias = Callable[[Case], bool]

OTHER_WORD = "\0"
"""Stands for every word of a text that no comparison names."""

_NEIGHBOUR = 1e-9
"""How near to a mark its neighbours are tried, relative: no rounding hides a case between them."""


@dataclass(frozen=True, slots=True)
class Strand:
    """One thing that a comparison hangs on; numbers have bounds, all else is listed in `marks`."""

    key: Key
    marks: tuple[Hashable, ...]
    line: Line | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Knot:
    """A comparison as far as trying out goes."""

    strands: tuple[Strand, ...]
    test: Holds

    @property
    def keys(self) -> tuple[Key, ...]:
        """What it hangs on."""
        return tuple(strand.key for strand in self.strands)


def knot_of(condition: checked.Condition) -> Knot:
    """The knot of a comparison."""
    match condition:
        case checked.Relation():
            return _relation(condition)
        case checked.Between():
            return _between(condition)
        case checked.Close():
            return _close(condition)
        case checked.WordIs(signal, words, negated):
            key: Key = ("signal", signal.name)
            marks = signal.words or (*words, OTHER_WORD)
            return Knot((Strand(key, marks),), lambda case: (case[key] in words) is not negated)
        case checked.SameWord(left, right, negated):
            return _same_word(left, right, negated=negated)
        case _:
            raise AssertionError(condition)


def either_way(key: Key, truths: Sequence[bool] = (False, True)) -> Knot:
    """A knot of which only the possible truths are known."""
    return Knot((Strand(key, tuple(truths)),), lambda case: bool(case[key]))


# -- words -------------------------------------------------------------------------------------------------


def _same_word(left: Signal, right: Signal, *, negated: bool) -> Knot:
    if left.name == right.name:
        return Knot((), lambda _: not negated)
    if not (left.words and right.words):
        return either_way(("same", left.name, right.name, negated))
    one: Key = ("signal", left.name)
    other: Key = ("signal", right.name)
    strands = (Strand(one, left.words), Strand(other, right.words))
    return Knot(strands, lambda case: (case[one] == case[other]) is not negated)


# -- numbers -----------------------------------------------------------------------------------------------

_TESTS: Mapping[str, Callable[[float, float], bool]] = {
    "=": same,
    "!=": lambda left, right: not same(left, right),
    "<": lambda left, right: left < right,
    "<=": lambda left, right: left <= right,
    ">": lambda left, right: left > right,
    ">=": lambda left, right: left >= right,
}


def _relation(node: checked.Relation) -> Knot:
    left, right = line(node.left), line(node.right)
    if left.key is not None and right.key is not None and left.key != right.key:
        return either_way(("circle", node.left, node.right, node.op)) if node.on_circle else _pair(node)
    if node.on_circle:
        wanted = node.op == "="
        return _numeric(
            left,
            right,
            (0.0,),
            lambda one, other: (apart_deg(one, other) <= SAME_RELATIVE * FULL_CIRCLE_DEG) is wanted,
            circle=True,
        )
    return _numeric(left, right, (0.0,), _TESTS[node.op])


def _between(node: checked.Between) -> Knot:
    term, zero = line(node.term), Line()
    low, high = node.low, node.high
    if node.on_circle:
        width = (high - low) % FULL_CIRCLE_DEG
        return _numeric(
            term, zero, (low, high), lambda one, _: (one - low) % FULL_CIRCLE_DEG <= width, circle=True
        )
    return _numeric(term, zero, (low, high), lambda one, _: low <= one <= high)


def _close(node: checked.Close) -> Knot:
    term, target, width = line(node.term), line(node.target), node.tolerance
    if term.key is not None and target.key is not None and term.key != target.key:
        return either_way(("near", node.term, node.target, width), _near_truths(node))
    if node.on_circle:
        return _numeric(
            term, target, (-width, width), lambda one, other: apart_deg(one, other) <= width, circle=True
        )
    return _numeric(term, target, (-width, width), lambda one, other: abs(one - other) <= width)


def _near_truths(node: checked.Close) -> tuple[bool, ...]:
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
    left: Line,
    right: Line,
    apart: tuple[float, ...],
    test: Callable[[float, float], bool],
    *,
    circle: bool = False,
) -> Knot:
    """A comparison that hangs on one number at most; it changes where left and right are `apart`."""
    moving = left if left.key is not None else right
    key = moving.key
    if key is None:
        truth = test(left.offset, right.offset)
        return Knot((), lambda _: truth)
    slope = left.slope - right.slope
    marks: list[float] = []
    for gap in apart if slope else ():
        value = (gap + right.offset - left.offset) / slope
        # `=` forgives a part of the numbers themselves, which an offset can make much greater than the value.
        slack = 1.1 * SAME_RELATIVE * max(abs(left.at(value)), abs(right.at(value)), 1e-12) / abs(slope)
        marks.extend((value - slack, value, value + slack))
    if circle:
        marks = [mark % FULL_CIRCLE_DEG for mark in marks]
    strand = Strand(key, tuple(marks), moving)
    return Knot((strand,), lambda case: test(left.at(case[key]), right.at(case[key])))


def _pair(node: checked.Relation) -> Knot:
    """Two numbers of which only the order counts: clearly less, less but `=` holds, the same, and so on."""
    turned = repr(node.left) > repr(node.right)
    one, other = (node.right, node.left) if turned else (node.left, node.right)
    key: Key = ("pair", one, other)
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
    return Knot((Strand(key, _orders(one, other)),), lambda case: test(side * case[key]))


def _orders(one: checked.Term, other: checked.Term) -> tuple[int, ...]:
    """Which orders of two numbers their bounds allow."""
    (low, high), (least, most) = bounds(one), bounds(other)
    meet = low <= most and least <= high
    nearly = meet or same(high, least) or same(low, most)
    allowed = {
        -2: low < most,
        -1: low < most and nearly,
        0: meet,
        1: high > least and nearly,
        2: high > least,
    }
    return tuple(order for order, possible in allowed.items() if possible)


# -- the cases of one key ------------------------------------------------------------------------------------


def cases_of(key: Key, knots: Sequence[Knot]) -> list[Hashable]:
    """The values of a key to try: no two of them look alike to every knot that hangs on it alone."""
    strands = [strand for knot in knots for strand in knot.strands if strand.key == key]
    moving = strands[0].line
    marks = list(dict.fromkeys(mark for strand in strands for mark in strand.marks))
    if moving is None:
        return marks
    alone = [knot for knot in knots if knot.keys == (key,)]
    numbers = _values(moving, [mark for mark in marks if isinstance(mark, float)])
    return list({tuple(knot.test({key: value}) for knot in alone): value for value in numbers}.values())


def _values(moving: Line, marks: Sequence[float]) -> list[float]:
    """The marks, their neighbours, the ends, and the middle of each stretch."""
    inside = [mark for mark in marks if moving.low <= mark <= moving.high]
    low = moving.low if isfinite(moving.low) else min(inside, default=0.0) - 1
    high = moving.high if isfinite(moving.high) else max(inside, default=0.0) + 1
    near = [mark + side * _NEIGHBOUR * abs(mark) for mark in inside for side in (-1, 0, 1)]
    points = sorted({low, high, *(point for point in near if low <= point <= high)})
    points += [(one + other) / 2 for one, other in pairwise(points)]
    if not moving.whole:
        return points
    whole = {float(step) for point in points for step in (floor(point), ceil(point))}
    return sorted(number for number in whole if low <= number <= high)
