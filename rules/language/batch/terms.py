"""Terms and comparisons over a whole recording, with the operations of `online.closures` in the same order.

The same order of floating-point operations gives the same bits; the two evaluators are tested against each other.

Takes: checked terms and comparisons, a segment.  Gives: `TermEvaluator`: a series for a term, the changes of a comparison.
"""

from __future__ import annotations

from collections.abc import Callable, Container
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from rules.language.batch.averages import average
from rules.language.batch.step_series import (
    UNKNOWN,
    StepSeries,
    TruthArray,
    align,
    series_of_steps,
    with_gaps,
)
from rules.language.batch.windows import change, extreme
from rules.language.checked_tree import (
    Among,
    Between,
    Constant,
    EventCount,
    Predicate,
    Relation,
    SameWord,
    Scale,
    SignalValue,
    Size,
    Sum,
    Term,
    Window,
    WithinTolerance,
    WordIs,
)
from rules.language.traversal import inner_windows, signal_names, terms_of
from rules.signals.array_equality import angle_between_deg, nearly_equal, nearly_same_direction
from rules.signals.columns import ColumnSegment, FloatArray, IntArray, SignalColumn
from rules.signals.equality import FULL_CIRCLE_DEG
from rules.signals.model import Signal, SignalKind

ArrayTest: TypeAlias = Callable[..., NDArray[np.bool_]]


@dataclass(frozen=True, slots=True)
class TruthChanges:
    """Changes of a comparison's truth: keys and times as in `StepSeries`, and the new truths."""

    keys: IntArray
    time_s: FloatArray | None
    truths: TruthArray


def has_no_count(predicate: Predicate) -> bool:
    """Check that a comparison reads no count of events; only the online nodes can count."""
    return not any(_has_count(term) for term in terms_of(predicate))


def _has_count(term: Term) -> bool:
    return any(isinstance(window, EventCount) or _has_count(window.term) for window in inner_windows(term))


class TermEvaluator:
    """Evaluates terms and comparisons over one segment; the gaps in its data make `lossy` signals unknown."""

    def __init__(self, segment: ColumnSegment, lossy: Container[str] = ()) -> None:
        self._segment = segment
        self._lossy = lossy
        self._sim_s = segment.sim_s
        self._series: dict[Term, StepSeries] = {}

    def series(self, term: Term) -> StepSeries:
        """Give a term's values, computed at first use."""
        known = self._series.get(term)
        if known is None:
            known = self._series[term] = self._compute(term)
        return known

    def _compute(self, term: Term) -> StepSeries:
        if isinstance(term, SignalValue):
            return self._signal_series(term)
        if isinstance(term, Constant):
            return series_of_steps(np.zeros(1, np.int64), np.array([term.value]))
        if isinstance(term, Sum):
            key, time_s, (left, right) = align([self.series(term.left), self.series(term.right)], self._sim_s)
            return StepSeries(key, left + term.sign * right, time_s)
        if isinstance(term, Scale):
            series = self.series(term.term)
            return StepSeries(series.keys, series.values * term.factor, series.time_s)
        if isinstance(term, Size):
            series = self.series(term.term)
            return StepSeries(series.keys, np.abs(series.values), series.time_s)
        if isinstance(term, Among):
            return self._among_series(term)
        if isinstance(term, EventCount):
            raise TypeError("a count has no column")
        return self._window_series(term)

    def _among_series(self, term: Among) -> StepSeries:
        key, time_s, values = align([self.series(each) for each in term.terms], self._sim_s)
        found = values[0]
        for other in values[1:]:
            found = _COMBINE[term.function](found, other)
        return StepSeries(key, found / len(values) if term.function == "average" else found, time_s)

    def _signal_series(self, term: SignalValue) -> StepSeries:
        column = self._segment.columns.get(term.signal.name)
        if column is None:
            return series_of_steps(np.zeros(1, np.int64), np.array([np.nan]))
        numbers = column.numbers
        if (term.factor, term.offset) != (1.0, 0.0):
            numbers = numbers * term.factor + term.offset
        return self._with_gaps(term.signal, series_of_steps(column.steps, numbers))

    def _with_gaps(self, signal: Signal, series: StepSeries) -> StepSeries:
        """Make the series of a signal unknown in the gaps that lose its data."""
        if signal.name not in self._lossy:
            return series
        return with_gaps(series, self._segment.gaps, self._sim_s)

    def _window_series(self, term: Window) -> StepSeries:
        series = self.series(term.term)
        if term.function in ("highest", "lowest"):
            sign = 1 if term.function == "highest" else -1
            begun_s = max(map(self._segment.first_fresh_s, signal_names(term.term)))
            return extreme(series, term.seconds, sign, self._sim_s, begun_s)
        if term.function == "average":
            return average(series, term.seconds, self._sim_s)
        on_circle = isinstance(term.term, SignalValue) and term.term.signal.kind is SignalKind.ANGLE
        per_s = term.seconds if term.function == "rate" else 1.0
        return change(series, term.seconds, self._sim_s, per_s=per_s, on_circle=on_circle)

    def truth_changes(self, predicate: Predicate) -> TruthChanges:
        """Compute the changes of a comparison's truth."""
        if isinstance(predicate, WordIs):
            return self._word_changes(predicate)
        if isinstance(predicate, SameWord):
            return self._same_word_changes(predicate)
        key, time_s, sides = self._align_sides(predicate)
        unknown = np.isnan(sides[0])
        for side in sides[1:]:
            unknown = unknown | np.isnan(side)
        truth = np.broadcast_to(_test(predicate)(*sides), unknown.shape).astype(np.int8)
        truth[unknown] = UNKNOWN
        return _changes_of(key, time_s, truth)

    def _align_sides(
        self, predicate: Relation | Between | WithinTolerance
    ) -> tuple[IntArray, FloatArray | None, list[FloatArray]]:
        """Align the terms of a comparison to the same points; a constant needs none."""
        terms = terms_of(predicate)
        moving: list[Term] = [term for term in terms if not isinstance(term, Constant)] or list(terms[:1])
        key, time_s, values = align([self.series(term) for term in moving], self._sim_s)
        known = dict(zip(moving, values, strict=True))
        constants: dict[Term, FloatArray] = {
            term: np.array(term.value) for term in terms if isinstance(term, Constant)
        }
        return key, time_s, [known[term] if term in known else constants[term] for term in terms]

    def _word_changes(self, predicate: WordIs) -> TruthChanges:
        column = self._segment.columns.get(predicate.signal.name)
        if column is None:
            return _no_changes()
        wanted = [
            self._segment.word_codes[word] for word in predicate.words if word in self._segment.word_codes
        ]
        codes = self._with_gaps(predicate.signal, _code_series(column))
        among = np.isin(codes.values, wanted) != predicate.negated
        truth = np.where(codes.values >= 0, among, UNKNOWN).astype(np.int8)
        return _changes_of(codes.keys, codes.time_s, truth)

    def _same_word_changes(self, predicate: SameWord) -> TruthChanges:
        signals = (predicate.left, predicate.right)
        columns = [self._segment.columns.get(signal.name) for signal in signals]
        both = [
            self._with_gaps(signal, _code_series(column))
            for signal, column in zip(signals, columns, strict=True)
            if column is not None
        ]
        if len(both) < len(signals):
            return _no_changes()
        key, time_s, (one, other) = align(both, self._sim_s)
        known = (one >= 0) & (other >= 0)
        return _changes_of(
            key, time_s, np.where(known, (one == other) != predicate.negated, UNKNOWN).astype(np.int8)
        )


def _code_series(column: SignalColumn) -> StepSeries:
    """Give the codes of a word's column as a series; a negative code is unknown."""
    return series_of_steps(column.steps, column.word_codes.astype(np.float64))


def _no_changes() -> TruthChanges:
    return TruthChanges(np.empty(0, np.int64), None, np.empty(0, np.int8))


def _changes_of(key: IntArray, time_s: FloatArray | None, truth: TruthArray) -> TruthChanges:
    """Select the points at which the truth changes; it is unknown before the first.

    key       1    3    5    7    9
    truth     ?    0    0    1    ?
    changes        0         1    ?
    """
    new = np.flatnonzero(truth[1:] != truth[:-1]) + 1
    if len(truth) and truth[0] != UNKNOWN:
        new = np.append(0, new)
    return TruthChanges(key[new], None if time_s is None else time_s[new], truth[new])


def _test(predicate: Relation | Between | WithinTolerance) -> ArrayTest:
    """Give the comparison as a function of the arrays of its terms; its result for NaN is not used."""
    if isinstance(predicate, Between):
        return _in_sector if predicate.on_circle else _in_range
    if isinstance(predicate, WithinTolerance):
        apart = angle_between_deg if predicate.on_circle else _difference
        return lambda one, tolerance, other: np.less_equal(apart(one, other), tolerance)
    return _ANGLE_TESTS[predicate.op] if predicate.on_circle else _NUMBER_TESTS[predicate.op]


def _in_sector(value: FloatArray, low: FloatArray, high: FloatArray) -> NDArray[np.bool_]:
    return np.less_equal((value - low) % FULL_CIRCLE_DEG, (high - low) % FULL_CIRCLE_DEG)


def _in_range(value: FloatArray, low: FloatArray, high: FloatArray) -> NDArray[np.bool_]:
    return (value >= low) & (value <= high)


def _difference(left: FloatArray, right: FloatArray) -> FloatArray:
    return np.abs(left - right)


_COMBINE: dict[str, Callable[[FloatArray, FloatArray], FloatArray]] = {
    "highest": np.maximum,
    "lowest": np.minimum,
    "average": np.add,
}
_NUMBER_TESTS: dict[str, ArrayTest] = {
    "<": np.less,
    "<=": np.less_equal,
    ">": np.greater,
    ">=": np.greater_equal,
    "=": nearly_equal,
    "!=": lambda left, right: ~nearly_equal(left, right),
}
_ANGLE_TESTS: dict[str, ArrayTest] = {
    "=": nearly_same_direction,
    "!=": lambda left, right: ~nearly_same_direction(left, right),
}
