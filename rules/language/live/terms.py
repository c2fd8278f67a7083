"""Numbers and the comparisons made of them, as closures over the fresh values.

A closure is made once for each shape of comparison, so that the commonest, a signal against a
constant, costs one look-up and one comparison when the signal changes.

Takes: checked terms and conditions, a look-up of fresh values.  Gives: closures without arguments.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Mapping
from typing import Any, TypeAlias

from rules.language.checked import (
    Between,
    Close,
    Combine,
    Const,
    Count,
    Read,
    Relation,
    SameWord,
    Scale,
    Term,
    Windowed,
    WordIs,
)
from rules.language.live.agenda import Cell
from rules.language.truth import Truth

Reader: TypeAlias = Callable[[], float | None]
Decider: TypeAlias = Callable[[], Truth]
Get: TypeAlias = Callable[[str], Any]
Atom: TypeAlias = Relation | Between | Close | WordIs | SameWord

FULL_CIRCLE_DEG = 360.0
SAME_RELATIVE = 1e-6
"""Two numbers this near, relative to the greater, are equal: 32-bit senders know about seven digits."""


def same(left: float, right: float) -> bool:
    """Equal but for the rounding of 32-bit senders."""
    return left == right or abs(left - right) <= SAME_RELATIVE * max(abs(left), abs(right))


def apart_deg(left: float, right: float) -> float:
    """The short way round between two directions, 0 to 180."""
    gap = abs(left - right) % FULL_CIRCLE_DEG
    return min(gap, FULL_CIRCLE_DEG - gap)


def same_direction(left: float, right: float) -> bool:
    """Equal directions but for the rounding of 32-bit senders."""
    return apart_deg(left, right) <= SAME_RELATIVE * max(abs(left), abs(right))


def _not_same(left: float, right: float) -> bool:
    return not same(left, right)


def _not_same_direction(left: float, right: float) -> bool:
    return not same_direction(left, right)


Test: TypeAlias = Callable[[float, float], bool]
ORDERED: Mapping[str, Test] = {"<": operator.lt, "<=": operator.le, ">": operator.gt, ">=": operator.ge}
TESTS: Mapping[str, Test] = {**ORDERED, "=": same, "!=": _not_same}
CIRCLE_TESTS: Mapping[str, Test] = {"=": same_direction, "!=": _not_same_direction}


def _less(get: Get, name: str, limit: float) -> Decider:
    return lambda: None if (value := get(name)) is None else value < limit


def _at_most(get: Get, name: str, limit: float) -> Decider:
    return lambda: None if (value := get(name)) is None else value <= limit


def _greater(get: Get, name: str, limit: float) -> Decider:
    return lambda: None if (value := get(name)) is None else value > limit


def _at_least(get: Get, name: str, limit: float) -> Decider:
    return lambda: None if (value := get(name)) is None else value >= limit


_DIRECT: Mapping[str, Callable[[Get, str, float], Decider]] = {
    "<": _less,
    "<=": _at_most,
    ">": _greater,
    ">=": _at_least,
}


class Terms:
    """Makes closures; `get` gives a signal's fresh value, `cells` has the node of every window and count."""

    def __init__(self, get: Get, cells: Mapping[Term, Cell]) -> None:
        self._get = get
        self._cells = cells

    def reader(self, term: Term) -> Reader:
        """A closure that gives the term's present value, None for unknown."""
        if isinstance(term, Const):
            constant = term.value
            return lambda: constant
        if isinstance(term, Read):
            return self._signal(term)
        if isinstance(term, Combine):
            return self._sum(term)
        if isinstance(term, Scale):
            return self._scaled(term)
        cell = self._cells[term]
        return lambda: cell.value

    def _signal(self, term: Read) -> Reader:
        get, name, factor, offset = self._get, term.signal.name, term.factor, term.offset
        if (factor, offset) == (1.0, 0.0):
            return lambda: get(name)
        return lambda: None if (value := get(name)) is None else value * factor + offset

    def _sum(self, term: Combine) -> Reader:
        left, right, sign = self.reader(term.left), self.reader(term.right), term.sign

        def read() -> float | None:
            one, other = left(), right()
            return None if one is None or other is None else one + sign * other

        return read

    def _scaled(self, term: Scale) -> Reader:
        inner, factor = self.reader(term.term), term.factor
        return lambda: None if (value := inner()) is None else value * factor

    def decider(self, atom: Atom) -> Decider:
        """A closure that gives the comparison's present truth."""
        if isinstance(atom, WordIs):
            return self._word(atom)
        if isinstance(atom, SameWord):
            return self._same_word(atom)
        if isinstance(atom, Between):
            return self._between(atom)
        if isinstance(atom, Close):
            return self._close(atom)
        return self._relation(atom)

    def _word(self, atom: WordIs) -> Decider:
        get, name, words, wanted = self._get, atom.signal.name, frozenset(atom.words), not atom.negated
        if len(words) == 1 and wanted:
            (word,) = words
            return lambda: None if (value := get(name)) is None else value == word
        return lambda: None if (value := get(name)) is None else (value in words) is wanted

    def _same_word(self, atom: SameWord) -> Decider:
        get, left, right, wanted = self._get, atom.left.name, atom.right.name, not atom.negated

        def decide() -> Truth:
            one, other = get(left), get(right)
            return None if one is None or other is None else (one == other) is wanted

        return decide

    def _relation(self, atom: Relation) -> Decider:
        left, right, op = atom.left, atom.right, atom.op
        plain = isinstance(left, Read) and (left.factor, left.offset) == (1.0, 0.0)
        if plain and isinstance(left, Read) and isinstance(right, Const) and op in _DIRECT:
            return _DIRECT[op](self._get, left.signal.name, right.value)
        return self._pair(left, right, (CIRCLE_TESTS if atom.on_circle else TESTS)[op])

    def _pair(self, left: Term, right: Term, test: Test) -> Decider:
        read_left, read_right = self.reader(left), self.reader(right)

        def decide() -> Truth:
            one, other = read_left(), read_right()
            return None if one is None or other is None else test(one, other)

        return decide

    def _between(self, atom: Between) -> Decider:
        read, low, high = self.reader(atom.term), atom.low, atom.high
        if atom.on_circle:
            width = (high - low) % FULL_CIRCLE_DEG
            return lambda: None if (value := read()) is None else (value - low) % FULL_CIRCLE_DEG <= width
        return lambda: None if (value := read()) is None else low <= value <= high

    def _close(self, atom: Close) -> Decider:
        tolerance = atom.tolerance
        if atom.on_circle:
            return self._pair(atom.term, atom.target, lambda one, other: apart_deg(one, other) <= tolerance)
        return self._pair(atom.term, atom.target, lambda one, other: abs(one - other) <= tolerance)


def signal_names(term: Term) -> tuple[str, ...]:
    """The signals that a term reads itself, not through a window or count."""
    if isinstance(term, Read):
        return (term.signal.name,)
    if isinstance(term, Combine):
        return signal_names(term.left) + signal_names(term.right)
    return signal_names(term.term) if isinstance(term, Scale) else ()


def inner_cells(term: Term) -> tuple[Windowed | Count, ...]:
    """The windows and counts that a term reads."""
    if isinstance(term, (Windowed, Count)):
        return (term,)
    if isinstance(term, Combine):
        return inner_cells(term.left) + inner_cells(term.right)
    return inner_cells(term.term) if isinstance(term, Scale) else ()


def terms_of(atom: Atom) -> tuple[Term, ...]:
    """The terms that a comparison of numbers has; none for words."""
    if isinstance(atom, Relation):
        return (atom.left, atom.right)
    if isinstance(atom, Between):
        return (atom.term,)
    return (atom.term, atom.target) if isinstance(atom, Close) else ()
