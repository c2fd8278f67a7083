"""The state at the cursor: looked up in the columns when somebody asks.

Takes: a cursor.  Gives: `ColumnState`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rules.language.batch import ColumnCursor
from rules.signals.model import Sample, Signal, Value
from rules.signals.state import SignalState


class CursorValues(dict[str, Value]):
    """The fresh values at the cursor; only asked by name, never gone through."""

    def __init__(self, cursor: ColumnCursor) -> None:
        """Whatever the cursor stands at."""
        super().__init__()
        self._cursor = cursor

    def get(self, name: str, default: object = None) -> Value | None:  # type: ignore[override]  # noqa: ARG002
        """The value, None where it is not fresh."""
        column = self._cursor.segment.columns.get(name)
        return column.value_at(self._cursor.step) if column is not None else None

    def __contains__(self, name: object) -> bool:
        return self.get(str(name)) is not None

    def __getitem__(self, name: str) -> Value:
        value = self.get(name)
        if value is None:
            raise KeyError(name)
        return value


class ColumnState(SignalState):
    """Reads columns where `State` folds frames; whoever moves the cursor calls `stand`."""

    def __init__(self, signals: Mapping[str, Signal], cursor: ColumnCursor) -> None:
        """Nothing seen: the cursor's stretch is still to come."""
        super().__init__(signals)
        self.values = CursorValues(cursor)
        self._cursor = cursor

    def seek(self, step: int) -> None:
        """Go to a step of the cursor's stretch."""
        self._cursor.step = step
        self.sim_s = float(self._cursor.segment.sim_s[step])

    def sample(self, name: str) -> Sample:
        """The sample at the cursor."""
        return self._cursor.segment.sample(name, self._cursor.step)

    def has_sample(self, name: str) -> bool:
        """Whether any link ever spoke of the signal, up to the cursor."""
        column = self._cursor.segment.columns.get(name)
        return column is not None and column.entry_at(self._cursor.step) >= 0

    def changed_sample(self, name: str) -> Sample | None:
        """The sample, where it became another at the cursor's very step."""
        column = self._cursor.segment.columns.get(name)
        entry = column.entry_at(self._cursor.step) if column is not None else -1
        if column is None or entry < 0 or column.steps[entry] != self._cursor.step:
            return None
        return self.sample(name)

    def set_value(self, name: str, value: Value, sim_s: float) -> list[Sample]:  # noqa: ARG002 - the columns have it
        """What a request set: the columns know it, and whether it is other than before."""
        sample = self.changed_sample(name)
        return [sample] if sample is not None else []

    def restart(self, epoch: int) -> None:
        """Another stretch begins; its columns begin with what stays."""
        self.epoch = epoch

    def forget(self, names: Sequence[str]) -> None:
        """Nothing to forget: a stretch's columns begin anew."""
