"""Activity of single signals, read from the columns on demand.

Takes: a cursor.  Gives: `ColumnSignalActivity`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

import numpy as np

from rules.judge.signal_activity import SignalActivity
from rules.language.batch import ColumnCursor
from rules.signals.array_equality import have_moved
from rules.signals.columns import FRESH, SignalColumn
from rules.signals.model import Sample, Value


class ColumnSignalActivity(SignalActivity):
    """Signal activity at the cursor; call `load` before the first step of a segment."""

    def __init__(
        self, values: Collection[str], readers: Mapping[str, Collection[str]], cursor: ColumnCursor
    ) -> None:
        super().__init__(values, readers)
        self._cursor = cursor
        self._start_step = -1
        self._touched: dict[int, set[str]] = {}

    def load(self) -> None:
        """Index by step the items that a signal touches by becoming fresh or ceasing to be."""
        self._start_step, self._touched = -1, {}
        columns = self._cursor.segment.columns
        for name, items in self._readers.items():
            if name in columns:
                for step in columns[name].freshness_changes().tolist():
                    self._touched.setdefault(step, set()).update(items)

    @property
    def steps(self) -> Iterable[int]:
        """Steps at which an item is touched."""
        return self._touched.keys()

    def observe(self, samples: Iterable[Sample]) -> set[str]:  # noqa: ARG002 - the columns have them
        """Items touched at the cursor's step."""
        return set(self._touched.get(self._cursor.step, ()))

    def moved(self, names: Iterable[str]) -> bool:
        """True if one of these signals has had two different values up to the cursor."""
        columns = self._cursor.segment.columns
        return any(
            name in self._value_signals and name in columns and self._moved(columns[name]) for name in names
        )

    def rebase(self, values: Mapping[str, Value]) -> None:  # noqa: ARG002 - the columns have them
        """Count moves from the cursor's step on."""
        self._start_step = self._cursor.step

    def reset(self) -> None:
        """Count moves from the start of the segment."""
        self._start_step = -1

    def _moved(self, column: SignalColumn) -> bool:
        """True if a signal has had two different values since the start."""
        first = max(column.entry_at(self._start_step), 0) if self._start_step >= 0 else 0
        last = column.entry_at(self._cursor.step) + 1
        fresh = np.flatnonzero(column.quality[first:last] == FRESH) + first
        if len(fresh) < 2:
            return False
        if len(column.word_codes):
            return bool(np.any(column.word_codes[fresh] != column.word_codes[fresh[0]]))
        numbers = column.numbers[fresh]
        return bool(np.any(have_moved(numbers[0], numbers)))
