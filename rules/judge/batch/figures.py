"""Figures over a whole recording: each worked out at every point at which something that it reads is other than before.

Takes: a pack's figures, a stretch.  Gives: their columns, and `ColumnFigures`, which says what they are called.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from rules.arithmetic.array_functions import array_function
from rules.arithmetic.domain import DomainError
from rules.judge.batch.state import ColumnState
from rules.judge.figures import BoundFigure, FigureEvaluator
from rules.language.batch.step_series import StepSeries, align, series_of_steps, without_repeats
from rules.language.batch.terms import TermEvaluator
from rules.packs.model import Figure, Pack
from rules.signals.columns import NO_WORD, ColumnSegment, FloatArray, SignalColumn, figure_column
from rules.signals.model import Sample, Signal, Value


def add_figure_columns(figures: Iterable[Figure], stretch: ColumnSegment) -> None:
    """Put the columns of these figures into the stretch, each after those that it reads."""
    columns = TermEvaluator(stretch)
    for figure in figures:
        column = _figure_column(figure, stretch, columns)
        if column is not None:
            stretch.columns[figure.signal.name] = column


def _figure_column(figure: Figure, stretch: ColumnSegment, columns: TermEvaluator) -> SignalColumn | None:
    """One figure's column; None where its inputs are never all there."""
    lines = [columns.series(term) for term in figure.terms.values()]
    lines += [_word_codes(stretch.columns.get(signal.name)) for signal in figure.words.values()]
    if not lines:
        lines = [series_of_steps(np.zeros(1, np.int64), np.zeros(1))]
    key, _, values = align(lines, stretch.sim_s)
    known = ~np.any(np.isnan(np.array(values)), axis=0)
    if not known.any():
        return None
    result = _evaluate(figure, values, known, list(stretch.word_codes)) * figure.factor + figure.offset
    if figure.step:
        result = np.rint(result / figure.step) * figure.step + 0.0
    begun = int(np.argmax(known))
    line = without_repeats(StepSeries(key[begun:], result[begun:]))
    return figure_column(line.keys >> 1, line.values)


def _word_codes(column: SignalColumn | None) -> StepSeries:
    """A word's number along the steps, not a number where it is not known."""
    if column is None:
        return series_of_steps(np.zeros(1, np.int64), np.array([np.nan]))
    return series_of_steps(column.steps, np.where(column.word_codes == NO_WORD, np.nan, column.word_codes))


def _evaluate(
    figure: Figure, values: Sequence[FloatArray], known: NDArray[np.bool_], words: Sequence[str]
) -> FloatArray:
    """What the function gives at each point; not a number where it refuses or something is not known."""
    function = array_function(figure.function)
    found = np.full(len(known), np.nan)
    if function is not None and not figure.words:
        with np.errstate(all="ignore"):
            found[known] = function(**dict(zip(figure.terms, (v[known] for v in values), strict=True)))
        return found
    found[known] = _evaluate_points(figure, [value[known].tolist() for value in values], words)
    return found


def _evaluate_points(figure: Figure, columns: Sequence[Sequence[float]], words: Sequence[str]) -> list[float]:
    """The function of each point's numbers and words; what came before is not worked out again."""
    keywords, numbers = (*figure.terms, *figure.words), len(figure.terms)
    known: dict[tuple[float, ...], float] = {}
    found: list[float] = []
    for point in zip(*columns, strict=True):
        value = known.get(point)
        if value is None:
            given: list[Value] = [*point[:numbers], *(words[int(code)] for code in point[numbers:])]
            value = known[point] = _evaluate_point(figure, dict(zip(keywords, given, strict=True)))
        found.append(value)
    return found


def _evaluate_point(figure: Figure, arguments: dict[str, Value]) -> float:
    try:
        return float(figure.function(**arguments))
    except (DomainError, ArithmeticError):
        return float("nan")


class ColumnFigureEvaluator(FigureEvaluator):
    """Knows what figures are called; their values come from the columns."""

    def __init__(self, pack: Pack, state: ColumnState) -> None:
        """Nothing is asked yet."""
        super().__init__(pack, state)
        self._columns = state

    def evaluate_all(self) -> list[Sample]:
        """Nothing to do: a stretch has its figures."""
        return []

    def update(self, samples: Iterable[Sample]) -> list[Sample]:  # noqa: ARG002 - the columns have them
        """The figures that became other at the cursor's step."""
        turned = (self._columns.changed_sample(name) for name in self._names)
        return [sample for sample in turned if sample is not None]

    def name(self, signal: Signal) -> str:
        """As of the live figures."""
        self._update_refusal(signal)
        return super().name(signal)

    def calculation(self, signal: Signal) -> str:
        """As of the live figures."""
        self._update_refusal(signal)
        return super().calculation(signal)

    def sources(self, signal: Signal) -> tuple[Signal, ...]:
        """As of the live figures."""
        self._update_refusal(signal)
        return super().sources(signal)

    def _update_refusal(self, signal: Signal) -> None:
        """Find out whether the function refuses what it is given now, and why."""
        working: BoundFigure | None = self._by_name.get(signal.name)
        if working is not None:
            self._compute(working)
