"""Figures over a whole recording: each worked out at every point at which something that it reads is other than before.

Takes: a pack's figures, a stretch.  Gives: their columns, and `ColumnFigures`, which says what they are called.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from rules.arithmetic.arrays import over_arrays
from rules.arithmetic.impossible import Impossible
from rules.judge.batch.state import ColumnState
from rules.judge.figures import Figures, Working
from rules.language.batch.lines import Line, settled, step_line, together
from rules.language.batch.terms import Columns
from rules.packs.model import Figure, Pack
from rules.signals.columns import NOT_KNOWN, Column, Real, Stretch, figure_column
from rules.signals.model import Sample, Signal, Value


def work_out(figures: Iterable[Figure], stretch: Stretch) -> None:
    """Put the columns of these figures into the stretch, each after those that it reads."""
    columns = Columns(stretch)
    for figure in figures:
        column = _column(figure, stretch, columns)
        if column is not None:
            stretch.columns[figure.signal.name] = column


def _column(figure: Figure, stretch: Stretch, columns: Columns) -> Column | None:
    """One figure's column; None where its inputs are never all there."""
    lines = [columns.line(term) for term in figure.terms.values()]
    lines += [_codes(stretch.columns.get(signal.name)) for signal in figure.words.values()]
    if not lines:
        lines = [step_line(np.zeros(1, np.int64), np.zeros(1))]
    key, _, values = together(lines, stretch.sim_s)
    known = ~np.any(np.isnan(np.array(values)), axis=0)
    if not known.any():
        return None
    result = _results(figure, values, known, list(stretch.codes)) * figure.factor + figure.offset
    if figure.step:
        result = np.rint(result / figure.step) * figure.step + 0.0
    begun = int(np.argmax(known))
    line = settled(Line(key[begun:], result[begun:]))
    return figure_column(line.key >> 1, line.value)


def _codes(column: Column | None) -> Line:
    """A word's number along the steps, not a number where it is not known."""
    if column is None:
        return step_line(np.zeros(1, np.int64), np.array([np.nan]))
    return step_line(column.at, np.where(column.code == NOT_KNOWN, np.nan, column.code))


def _results(figure: Figure, values: Sequence[Real], known: NDArray[np.bool_], words: Sequence[str]) -> Real:
    """What the function gives at each point; not a number where it refuses or something is not known."""
    function = over_arrays(figure.function)
    found = np.full(len(known), np.nan)
    if function is not None and not figure.words:
        with np.errstate(all="ignore"):
            found[known] = function(**dict(zip(figure.terms, (v[known] for v in values), strict=True)))
        return found
    found[known] = _one_by_one(figure, [value[known].tolist() for value in values], words)
    return found


def _one_by_one(figure: Figure, columns: Sequence[Sequence[float]], words: Sequence[str]) -> list[float]:
    """The function of each point's numbers and words; what came before is not worked out again."""
    keywords, numbers = (*figure.terms, *figure.words), len(figure.terms)
    known: dict[tuple[float, ...], float] = {}
    found: list[float] = []
    for point in zip(*columns, strict=True):
        value = known.get(point)
        if value is None:
            given: list[Value] = [*point[:numbers], *(words[int(code)] for code in point[numbers:])]
            value = known[point] = _one(figure, dict(zip(keywords, given, strict=True)))
        found.append(value)
    return found


def _one(figure: Figure, given: dict[str, Value]) -> float:
    try:
        return float(figure.function(**given))
    except (Impossible, ArithmeticError):
        return float("nan")


class ColumnFigures(Figures):
    """Knows what figures are called; their values come from the columns."""

    def __init__(self, pack: Pack, state: ColumnState) -> None:
        """Nothing is asked yet."""
        super().__init__(pack, state)
        self._columns = state

    def begin(self) -> list[Sample]:
        """Nothing to do: a stretch has its figures."""
        return []

    def follow(self, samples: Iterable[Sample]) -> list[Sample]:  # noqa: ARG002 - the columns have them
        """The figures that became other at the cursor's step."""
        turned = (self._columns.turned(name) for name in self._names)
        return [sample for sample in turned if sample is not None]

    def name(self, signal: Signal) -> str:
        """As of the live figures."""
        self._refuse(signal)
        return super().name(signal)

    def working(self, signal: Signal) -> str:
        """As of the live figures."""
        self._refuse(signal)
        return super().working(signal)

    def sources(self, signal: Signal) -> tuple[Signal, ...]:
        """As of the live figures."""
        self._refuse(signal)
        return super().sources(signal)

    def _refuse(self, signal: Signal) -> None:
        """Find out whether the function refuses what it is given now, and why."""
        working: Working | None = self._by_name.get(signal.name)
        if working is not None:
            self._value(working)
