"""Compiles comparisons into Python functions without arguments that read the fresh values of signals.

A closure is made once for each comparison, specialised for its form.

Takes: checked terms and conditions, a look-up of fresh values.  Gives: closures without arguments.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any, TypeAlias

from rules.language.checked_tree import (
    Among,
    Between,
    Constant,
    Predicate,
    Relation,
    SameWord,
    Scale,
    SignalValue,
    Size,
    Sum,
    Term,
    WithinTolerance,
    WordIs,
)
from rules.language.online.scheduler import NumberNode
from rules.language.truth import Truth
from rules.signals.equality import FULL_CIRCLE_DEG, angle_between_deg, nearly_equal, nearly_same_direction

Reader: TypeAlias = Callable[[], float | None]
Decider: TypeAlias = Callable[[], Truth]
Lookup: TypeAlias = Callable[[str], Any]


def _not_nearly_equal(left: float, right: float) -> bool:
    return not nearly_equal(left, right)


def _not_nearly_same_direction(left: float, right: float) -> bool:
    return not nearly_same_direction(left, right)


def _in_sector(value: float, low: float, high: float) -> bool:
    """Check that a direction lies clockwise between two others, which belong to the sector."""
    return (value - low) % FULL_CIRCLE_DEG <= (high - low) % FULL_CIRCLE_DEG


def _difference(left: float, right: float) -> float:
    return abs(left - right)


def _average(values: Sequence[float]) -> float:
    """Add in the order of the terms, as the column evaluator does, so that both give the same bits."""
    total = values[0]
    for value in values[1:]:
        total += value
    return total / len(values)


_AMONG: Mapping[str, Callable[[Sequence[float]], float]] = {
    "highest": max,
    "lowest": min,
    "average": _average,
}

NumberTest: TypeAlias = Callable[[float, float], bool]
ORDER_TESTS: Mapping[str, NumberTest] = {
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
}
NUMBER_TESTS: Mapping[str, NumberTest] = {**ORDER_TESTS, "=": nearly_equal, "!=": _not_nearly_equal}
ANGLE_TESTS: Mapping[str, NumberTest] = {"=": nearly_same_direction, "!=": _not_nearly_same_direction}


class ClosureBuilder:
    """Builds closures; `get` gives a signal's fresh value, `number_nodes` has the node of every window and count."""

    def __init__(self, get: Lookup, number_nodes: Mapping[Term, NumberNode]) -> None:
        self._get = get
        self._number_nodes = number_nodes

    def reader(self, term: Term) -> Reader:
        """Build a closure that gives the term's present value, None for unknown."""
        if isinstance(term, Constant):
            constant = term.value
            return lambda: constant
        if isinstance(term, SignalValue):
            return self._signal(term)
        if isinstance(term, Sum):
            return self._sum(term)
        if isinstance(term, Scale):
            return self._scaled(term)
        if isinstance(term, Size):
            return self._size(term)
        if isinstance(term, Among):
            return self._among(term)
        node = self._number_nodes[term]
        return lambda: node.value

    def _signal(self, term: SignalValue) -> Reader:
        get, name, factor, offset = self._get, term.signal.name, term.factor, term.offset
        if (factor, offset) == (1.0, 0.0):
            return partial(get, name)  # no call of a Python function, since every comparison reads signals
        return lambda: None if (value := get(name)) is None else value * factor + offset

    def _sum(self, term: Sum) -> Reader:
        left, right, sign = self.reader(term.left), self.reader(term.right), term.sign

        def read() -> float | None:
            one, other = left(), right()
            return None if one is None or other is None else one + sign * other

        return read

    def _scaled(self, term: Scale) -> Reader:
        inner, factor = self.reader(term.term), term.factor
        return lambda: None if (value := inner()) is None else value * factor

    def _size(self, term: Size) -> Reader:
        inner = self.reader(term.term)
        return lambda: None if (value := inner()) is None else abs(value)

    def _among(self, term: Among) -> Reader:
        readers, pick = [self.reader(each) for each in term.terms], _AMONG[term.function]

        def read() -> float | None:
            values = []
            for reader in readers:
                value = reader()
                if value is None:
                    return None
                values.append(value)
            return pick(values)

        return read

    def decider(self, predicate: Predicate) -> Decider:
        """Build a closure that gives the comparison's present truth."""
        if isinstance(predicate, WordIs):
            return self._word(predicate)
        if isinstance(predicate, SameWord):
            return self._same_word(predicate)
        if isinstance(predicate, Between):
            return self._between(predicate)
        if isinstance(predicate, WithinTolerance):
            return self._close(predicate)
        return self._relation(predicate)

    def _word(self, predicate: WordIs) -> Decider:
        get, name, words, wanted = (
            self._get,
            predicate.signal.name,
            frozenset(predicate.words),
            not predicate.negated,
        )
        if len(words) == 1 and wanted:
            (word,) = words
            return lambda: None if (value := get(name)) is None else value == word
        return lambda: None if (value := get(name)) is None else (value in words) is wanted

    def _same_word(self, predicate: SameWord) -> Decider:
        get, left, right, wanted = self._get, predicate.left.name, predicate.right.name, not predicate.negated

        def decide() -> Truth:
            one, other = get(left), get(right)
            return None if one is None or other is None else (one == other) is wanted

        return decide

    def _relation(self, predicate: Relation) -> Decider:
        tests = ANGLE_TESTS if predicate.on_circle else NUMBER_TESTS
        return self._pair(predicate.left, predicate.right, tests[predicate.op])

    def _pair(self, left: Term, right: Term, test: NumberTest) -> Decider:
        read_left, read_right = self.reader(left), self.reader(right)

        def decide() -> Truth:
            one, other = read_left(), read_right()
            return None if one is None or other is None else test(one, other)

        return decide

    def _between(self, predicate: Between) -> Decider:
        read, low, high = self.reader(predicate.term), predicate.low, predicate.high
        if isinstance(low, Constant) and isinstance(high, Constant):
            lowest, highest = low.value, high.value
            if predicate.on_circle:
                return lambda: None if (value := read()) is None else _in_sector(value, lowest, highest)
            return lambda: None if (value := read()) is None else lowest <= value <= highest
        if predicate.on_circle:
            return self._triple(predicate.term, low, high, _in_sector)
        return self._triple(predicate.term, low, high, lambda value, least, most: least <= value <= most)

    def _close(self, predicate: WithinTolerance) -> Decider:
        apart = angle_between_deg if predicate.on_circle else _difference
        if isinstance(predicate.tolerance, Constant):
            width = predicate.tolerance.value
            return self._pair(predicate.term, predicate.target, lambda one, other: apart(one, other) <= width)
        return self._triple(
            predicate.term,
            predicate.target,
            predicate.tolerance,
            lambda one, other, tolerance: apart(one, other) <= tolerance,
        )

    def _triple(
        self, first: Term, second: Term, third: Term, test: Callable[[float, float, float], bool]
    ) -> Decider:
        read_first, read_second, read_third = self.reader(first), self.reader(second), self.reader(third)

        def decide() -> Truth:
            one, two, three = read_first(), read_second(), read_third()
            return None if one is None or two is None or three is None else test(one, two, three)

        return decide
