"""Figures over a whole recording: one column for each, with a value wherever an input changes.

Takes: the figures of a pack, a segment.  Gives: their columns, and `ColumnFigureEvaluator`, which names and explains
them.
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


def add_figure_columns(figures: Iterable[Figure], segment: ColumnSegment) -> None:
    """Add the columns of these figures to the segment, each after those that it reads."""
    columns = TermEvaluator(segment)
    for figure in figures:
        column = _figure_column(figure, segment, columns)
        if column is not None:
            segment.columns[figure.signal.name] = column


def _figure_column(figure: Figure, segment: ColumnSegment, columns: TermEvaluator) -> SignalColumn | None:
    """Compute the column of a figure; None where its inputs are never all known.

    step           0         2         4         6
    left tank      3 900                         3 700
    right tank     ?         3 100     ?
    imbalance                800       ?
    """
    series = [columns.series(term) for term in figure.terms.values()]
    series += [_word_codes(segment.columns.get(signal.name)) for signal in figure.words.values()]
    if not series:
        series = [series_of_steps(np.zeros(1, np.int64), np.zeros(1))]
    key, _, values = align(series, segment.sim_s)
    known = ~np.any(np.isnan(np.array(values)), axis=0)
    if not known.any():
        return None
    result = _evaluate(figure, values, known, list(segment.word_codes)) * figure.factor + figure.offset
    first = int(np.argmax(known))
    merged = without_repeats(StepSeries(key[first:], result[first:]))
    return figure_column(merged.keys >> 1, merged.values)


def _word_codes(column: SignalColumn | None) -> StepSeries:
    """Series of a word's code along the steps; NaN where the word is unknown."""
    if column is None:
        return series_of_steps(np.zeros(1, np.int64), np.array([np.nan]))
    return series_of_steps(column.steps, np.where(column.word_codes == NO_WORD, np.nan, column.word_codes))


def _evaluate(
    figure: Figure, values: Sequence[FloatArray], known: NDArray[np.bool_], words: Sequence[str]
) -> FloatArray:
    """Apply the function at each point; NaN where it refuses its arguments or an input is unknown."""
    function = array_function(figure.function)
    found = np.full(len(known), np.nan)
    if function is not None and not figure.words:
        with np.errstate(all="ignore"):
            found[known] = function(**dict(zip(figure.terms, (v[known] for v in values), strict=True)))
        return found
    found[known] = _evaluate_points(figure, [value[known].tolist() for value in values], words)
    return found


def _evaluate_points(figure: Figure, columns: Sequence[Sequence[float]], words: Sequence[str]) -> list[float]:
    """Apply the function to the numbers and words of each point; equal points are computed once."""
    keywords, numbers = (*figure.terms, *figure.words), len(figure.terms)
    known: dict[tuple[float, ...], float] = {}
    found: list[float] = []
    for point in zip(*columns, strict=True):
        value = known.get(point)
        if value is None:
            arguments: list[Value] = [*point[:numbers], *(words[int(code)] for code in point[numbers:])]
            value = known[point] = _evaluate_point(figure, dict(zip(keywords, arguments, strict=True)))
        found.append(value)
    return found


def _evaluate_point(figure: Figure, arguments: dict[str, Value]) -> float:
    try:
        return float(figure.function(**arguments))
    except (DomainError, ArithmeticError):
        return float("nan")


class ColumnFigureEvaluator(FigureEvaluator):
    """Names and explains figures; their values come from the columns."""

    def __init__(self, pack: Pack, state: ColumnState) -> None:
        super().__init__(pack, state)
        self._columns = state

    def evaluate_all(self) -> list[Sample]:
        """Compute nothing: the segment already has the columns of the figures."""
        return []

    def update(self, samples: Iterable[Sample]) -> list[Sample]:  # noqa: ARG002 - the columns have them
        """Samples of the figures that changed at the cursor's step."""
        changed = (self._columns.changed_sample(name) for name in self._names)
        return [sample for sample in changed if sample is not None]

    def name(self, signal: Signal) -> str:
        """Name a figure as `FigureEvaluator.name` does."""
        self._update_refusal(signal)
        return super().name(signal)

    def calculation(self, signal: Signal) -> str:
        """Explain a figure as `FigureEvaluator.calculation` does."""
        self._update_refusal(signal)
        return super().calculation(signal)

    def sources(self, signal: Signal) -> tuple[Signal, ...]:
        """Find the missing inputs as `FigureEvaluator.sources` does."""
        self._update_refusal(signal)
        return super().sources(signal)

    def _update_refusal(self, signal: Signal) -> None:
        """Compute the figure once, so that its refusal is the one of the cursor's step."""
        bound: BoundFigure | None = self._by_name.get(signal.name)
        if bound is not None:
            self._compute(bound)
