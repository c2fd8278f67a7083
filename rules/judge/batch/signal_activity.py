"""What the judge remembers of single signals, read from the columns when it is asked.

Takes: a cursor.  Gives: `ColumnTraces`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

import numpy as np

from rules.judge.signal_activity import SAME_TOLERANCE, SignalActivity
from rules.language.batch import ColumnCursor
from rules.signals.columns import FRESH, SignalColumn
from rules.signals.model import Sample, Value


class ColumnSignalActivity(SignalActivity):
    """`load` a stretch before its first step."""

    def __init__(
        self, values: Collection[str], readers: Mapping[str, Collection[str]], cursor: ColumnCursor
    ) -> None:
        """Nothing seen yet."""
        super().__init__(values, readers)
        self._cursor = cursor
        self._start_step = -1
        self._touched: dict[int, set[str]] = {}

    def load(self) -> None:
        """Note by step what is touched because a signal comes or goes."""
        self._start_step, self._touched = -1, {}
        columns = self._cursor.segment.columns
        for name, items in self._readers.items():
            if name in columns:
                for step in columns[name].freshness_changes().tolist():
                    self._touched.setdefault(step, set()).update(items)

    @property
    def steps(self) -> Iterable[int]:
        """The steps at which something is touched."""
        return self._touched.keys()

    def observe(self, samples: Iterable[Sample]) -> set[str]:  # noqa: ARG002 - the columns have them
        """What is touched at the cursor's step."""
        return set(self._touched.get(self._cursor.step, ()))

    def moved(self, names: Iterable[str]) -> bool:
        """Whether somebody moved one of these signals, up to the cursor."""
        columns = self._cursor.segment.columns
        return any(
            name in self._value_signals and name in columns and self._moved(columns[name]) for name in names
        )

    def rebase(self, values: Mapping[str, Value]) -> None:  # noqa: ARG002 - the columns have them
        """Begin anew with what stands at the cursor."""
        self._start_step = self._cursor.step

    def reset(self) -> None:
        """Begin anew with nothing seen."""
        self._start_step = -1

    def _moved(self, column: SignalColumn) -> bool:
        """Whether a signal has had two different values since the beginning."""
        first = max(column.entry_at(self._start_step), 0) if self._start_step >= 0 else 0
        last = column.entry_at(self._cursor.step) + 1
        fresh = np.flatnonzero(column.quality[first:last] == FRESH) + first
        if len(fresh) < 2:
            return False
        if len(column.word_codes):
            return bool(np.any(column.word_codes[fresh] != column.word_codes[fresh[0]]))
        numbers = column.numbers[fresh]
        apart = np.abs(numbers - numbers[0])
        near = SAME_TOLERANCE * np.maximum(np.abs(numbers), abs(numbers[0]))
        return bool(np.any((apart > near) & (apart > SAME_TOLERANCE)))
