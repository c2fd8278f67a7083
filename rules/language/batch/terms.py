"""Terms and comparisons over a whole recording, with the arithmetic of `live.terms` in the same order.

Takes: checked terms and comparisons, a stretch.  Gives: `Columns`: a line for a term, the turns of a comparison.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from rules.language.batch.lines import UNKNOWN, Line, Truths, step_line, together
from rules.language.batch.windows import change, extreme
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
from rules.language.live.terms import (
    FULL_CIRCLE_DEG,
    SAME_RELATIVE,
    Atom,
    inner_cells,
    signal_names,
    terms_of,
)
from rules.signals.columns import Real, Stretch, Whole
from rules.signals.model import Kind

Test: TypeAlias = Callable[[Real, Real], NDArray[np.bool_]]


@dataclass(frozen=True, slots=True)
class Turns:
    """Where a comparison's truth becomes another: keys and times as of a `Line`, and the truth from there on."""

    key: Whole
    time_s: Real | None
    truth: Truths


def countless(atom: Atom) -> bool:
    """Whether a comparison reads no count of events, which only the live nodes know."""
    return not any(_counts(term) for term in terms_of(atom))


def _counts(term: Term) -> bool:
    return any(isinstance(cell, Count) or _counts(cell.term) for cell in inner_cells(term))


def all_names(term: Term) -> frozenset[str]:
    """The signals that a term reads, also through windows."""
    inner = (all_names(cell.term) for cell in inner_cells(term) if isinstance(cell, Windowed))
    return frozenset(signal_names(term)).union(*inner)


class Columns:
    """What conditions read, over one stretch."""

    def __init__(self, stretch: Stretch) -> None:
        """Nothing worked out yet."""
        self._stretch = stretch
        self._sim_s = stretch.sim_s
        self._lines: dict[Term, Line] = {}

    def line(self, term: Term) -> Line:
        """A term's numbers, worked out when first asked for."""
        known = self._lines.get(term)
        if known is None:
            known = self._lines[term] = self._work_out(term)
        return known

    def _work_out(self, term: Term) -> Line:
        if isinstance(term, Read):
            return self._read(term)
        if isinstance(term, Const):
            return step_line(np.zeros(1, np.int64), np.array([term.value]))
        if isinstance(term, Combine):
            key, time_s, (left, right) = together([self.line(term.left), self.line(term.right)], self._sim_s)
            return Line(key, left + term.sign * right, time_s)
        if isinstance(term, Scale):
            line = self.line(term.term)
            return Line(line.key, line.value * term.factor, line.time_s)
        if isinstance(term, Count):
            raise TypeError("a count has no column")
        return self._window(term)

    def _read(self, term: Read) -> Line:
        column = self._stretch.columns.get(term.signal.name)
        if column is None:
            return step_line(np.zeros(1, np.int64), np.array([np.nan]))
        if (term.factor, term.offset) == (1.0, 0.0):
            return step_line(column.at, column.number)
        return step_line(column.at, column.number * term.factor + term.offset)

    def _window(self, term: Windowed) -> Line:
        line = self.line(term.term)
        if term.function in ("highest", "lowest"):
            sign = 1 if term.function == "highest" else -1
            begun_s = max(map(self._stretch.first_fresh_s, all_names(term.term)))
            return extreme(line, term.seconds, sign, self._sim_s, begun_s)
        on_circle = isinstance(term.term, Read) and term.term.signal.kind is Kind.ANGLE
        per_s = term.seconds if term.function == "rate" else 1.0
        return change(line, term.seconds, self._sim_s, per_s=per_s, on_circle=on_circle)

    def turns(self, atom: Atom) -> Turns:
        """Where a comparison's truth becomes another."""
        if isinstance(atom, WordIs):
            return self._word(atom)
        if isinstance(atom, SameWord):
            return self._same_word(atom)
        key, time_s, sides = self._sides(atom)
        known = ~np.isnan(sides[0]) if len(sides) == 1 else ~(np.isnan(sides[0]) | np.isnan(sides[1]))
        so = _test(atom)(sides[0], sides[-1])
        truth = so.astype(np.int8)
        truth[~known] = UNKNOWN
        return _turned(key, time_s, truth)

    def _sides(self, atom: Relation | Between | Close) -> tuple[Whole, Real | None, list[Real]]:
        """The terms of a comparison at the same points; a constant is the same at all of them."""
        terms = terms_of(atom)
        moving: list[Term] = [term for term in terms if not isinstance(term, Const)] or list(terms[:1])
        key, time_s, values = together([self.line(term) for term in moving], self._sim_s)
        known = dict(zip(moving, values, strict=True))
        still: dict[Term, Real] = {term: np.array(term.value) for term in terms if isinstance(term, Const)}
        return key, time_s, [known[term] if term in known else still[term] for term in terms]

    def _word(self, atom: WordIs) -> Turns:
        column = self._stretch.columns.get(atom.signal.name)
        if column is None:
            return _nothing()
        wanted = [self._stretch.codes[word] for word in atom.words if word in self._stretch.codes]
        among = np.isin(column.code, wanted) != atom.negated
        return _turned(2 * column.at + 1, None, np.where(column.code < 0, UNKNOWN, among).astype(np.int8))

    def _same_word(self, atom: SameWord) -> Turns:
        pair = [self._stretch.columns.get(signal.name) for signal in (atom.left, atom.right)]
        left, right = pair
        if left is None or right is None:
            return _nothing()
        lines = [step_line(column.at, column.code.astype(np.float64)) for column in (left, right)]
        key, time_s, (one, other) = together(lines, self._sim_s)
        known = (one >= 0) & (other >= 0)
        return _turned(key, time_s, np.where(known, (one == other) != atom.negated, UNKNOWN).astype(np.int8))


def _nothing() -> Turns:
    return Turns(np.empty(0, np.int64), None, np.empty(0, np.int8))


def _turned(key: Whole, time_s: Real | None, truth: Truths) -> Turns:
    """Only the points at which the truth is another; unknown before the first."""
    new = np.flatnonzero(truth[1:] != truth[:-1]) + 1
    if len(truth) and truth[0] != UNKNOWN:
        new = np.append(0, new)
    return Turns(key[new], None if time_s is None else time_s[new], truth[new])


def _test(atom: Relation | Between | Close) -> Test:
    """The comparison on arrays; a number that is not known gives something, which nobody reads."""
    if isinstance(atom, Between):
        return _between(atom)
    if isinstance(atom, Close):
        tolerance, apart = atom.tolerance, _apart_deg if atom.on_circle else _apart
        return lambda one, other: np.less_equal(apart(one, other), tolerance)
    return _ON_CIRCLE[atom.op] if atom.on_circle else _PLAIN[atom.op]


def _between(atom: Between) -> Test:
    low, high = atom.low, atom.high
    if atom.on_circle:
        width = (high - low) % FULL_CIRCLE_DEG
        return lambda value, _: np.less_equal((value - low) % FULL_CIRCLE_DEG, width)
    return lambda value, _: (value >= low) & (value <= high)


def _apart(left: Real, right: Real) -> Real:
    return np.abs(left - right)


def _apart_deg(left: Real, right: Real) -> Real:
    gap = np.abs(left - right) % FULL_CIRCLE_DEG
    return np.minimum(gap, FULL_CIRCLE_DEG - gap)


def _same(left: Real, right: Real) -> NDArray[np.bool_]:
    near = np.abs(left - right) <= SAME_RELATIVE * np.maximum(np.abs(left), np.abs(right))
    same: NDArray[np.bool_] = (left == right) | near
    return same


def _same_direction(left: Real, right: Real) -> NDArray[np.bool_]:
    return _apart_deg(left, right) <= SAME_RELATIVE * np.maximum(np.abs(left), np.abs(right))


_PLAIN: dict[str, Test] = {
    "<": np.less,
    "<=": np.less_equal,
    ">": np.greater,
    ">=": np.greater_equal,
    "=": _same,
    "!=": lambda left, right: ~_same(left, right),
}
_ON_CIRCLE: dict[str, Test] = {
    "=": _same_direction,
    "!=": lambda left, right: ~_same_direction(left, right),
}


def words_of(atom: Atom) -> Iterable[str]:
    """The signals that a comparison reads, also through windows."""
    if isinstance(atom, WordIs):
        return (atom.signal.name,)
    if isinstance(atom, SameWord):
        return (atom.left.name, atom.right.name)
    return tuple(dict.fromkeys(name for term in terms_of(atom) for name in sorted(all_names(term))))
