"""Gives the judge the samples of signals at one frame of a recording, looked up in columns.

Takes: a cursor.  Gives: `ColumnState`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rules.judge.batch.cursor_values import CursorValues
from rules.language.batch import ColumnCursor
from rules.signals.model import Sample, Signal, Value
from rules.signals.state import SignalState


class ColumnState(SignalState):
    """State that reads columns where `SignalState` folds frames; `seek` moves the cursor."""

    def __init__(self, signals: Mapping[str, Signal], cursor: ColumnCursor) -> None:
        """Start without a segment."""
        super().__init__(signals)
        self.values = CursorValues(cursor)
        self._cursor = cursor

    def seek(self, step: int) -> None:
        """Go to a step of the cursor's segment."""
        self._cursor.step = step
        self.sim_s = float(self._cursor.segment.sim_s[step])

    def sample(self, name: str) -> Sample:
        """Sample at the cursor."""
        return self._cursor.segment.sample(name, self._cursor.step)

    def has_sample(self, name: str) -> bool:
        """True if any link has sent the signal, up to the cursor."""
        column = self._cursor.segment.columns.get(name)
        return column is not None and column.entry_at(self._cursor.step) >= 0

    def samples(self) -> dict[str, Sample]:
        """Samples at the cursor of all signals that a link has sent up to it."""
        return {name: self.sample(name) for name in self._cursor.segment.columns if self.has_sample(name)}

    def carried_at_s(self) -> dict[str, float]:
        """Give no times, since columns have none."""
        return {}

    def changed_sample(self, name: str) -> Sample | None:
        """Sample, if it changed at exactly the cursor's step."""
        column = self._cursor.segment.columns.get(name)
        entry = column.entry_at(self._cursor.step) if column is not None else -1
        if column is None or entry < 0 or column.steps[entry] != self._cursor.step:
            return None
        return self.sample(name)

    def set_value(self, name: str, value: Value, sim_s: float) -> list[Sample]:  # noqa: ARG002 - the columns have it
        """Sample that a request set, if it differs from the one before."""
        sample = self.changed_sample(name)
        return [sample] if sample is not None else []

    def restart(self, epoch: int) -> None:
        """Start another segment; its columns begin with the values that last."""
        self.epoch = epoch

    def forget(self, names: Sequence[str]) -> None:
        """Do nothing: the columns of a segment start empty."""
