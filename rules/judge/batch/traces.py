"""What the judge remembers of single signals, read from the columns when it is asked.

Takes: a cursor.  Gives: `ColumnTraces`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

import numpy as np

from rules.judge.traces import SAME, Traces
from rules.language.batch import Cursor
from rules.signals.columns import FRESH, Column
from rules.signals.model import Sample, Value


class ColumnTraces(Traces):
    """`load` a stretch before its first step."""

    def __init__(
        self, values: Collection[str], readers: Mapping[str, Collection[str]], cursor: Cursor
    ) -> None:
        """Nothing seen yet."""
        super().__init__(values, readers)
        self._cursor = cursor
        self._since = -1
        self._touched: dict[int, set[str]] = {}

    def load(self) -> None:
        """Note by step what is touched because a signal comes or goes."""
        self._since, self._touched = -1, {}
        columns = self._cursor.stretch.columns
        for name, items in self._readers.items():
            if name in columns:
                for step in columns[name].flips().tolist():
                    self._touched.setdefault(step, set()).update(items)

    @property
    def steps(self) -> Iterable[int]:
        """The steps at which something is touched."""
        return self._touched.keys()

    def look(self, samples: Iterable[Sample]) -> set[str]:  # noqa: ARG002 - the columns have them
        """What is touched at the cursor's step."""
        return set(self._touched.get(self._cursor.step, ()))

    def moved(self, names: Iterable[str]) -> bool:
        """Whether somebody moved one of these signals, up to the cursor."""
        columns = self._cursor.stretch.columns
        return any(name in self._values and name in columns and self._moved(columns[name]) for name in names)

    def settle(self, values: Mapping[str, Value]) -> None:  # noqa: ARG002 - the columns have them
        """Begin anew with what stands at the cursor."""
        self._since = self._cursor.step

    def forget(self) -> None:
        """Begin anew with nothing seen."""
        self._since = -1

    def _moved(self, column: Column) -> bool:
        """Whether a signal has had two different values since the beginning."""
        first = max(column.entry(self._since), 0) if self._since >= 0 else 0
        last = column.entry(self._cursor.step) + 1
        fresh = np.flatnonzero(column.quality[first:last] == FRESH) + first
        if len(fresh) < 2:
            return False
        if len(column.code):
            return bool(np.any(column.code[fresh] != column.code[fresh[0]]))
        numbers = column.number[fresh]
        apart = np.abs(numbers - numbers[0])
        near = SAME * np.maximum(np.abs(numbers), abs(numbers[0]))
        return bool(np.any((apart > near) & (apart > SAME)))
