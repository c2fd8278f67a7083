"""Monitors over columns, for the same traces as those of the tests of the online evaluator.

Takes: conditions and a trace.  Gives: `ColumnRun`, which goes through its steps.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rules.language.batch import ColumnCursor, ColumnMonitors
from rules.language.checked_tree import Condition
from rules.signals.column_builder import ColumnBuilder
from rules.signals.columns import ColumnSegment
from rules.signals.input_log import InputLog
from rules.signals.model import Sample, Signal, Value
from tests.rules.language.condition_strategies import LOSSY, SIGNALS
from tests.rules.language.oracle_histories import Step


def segment_of(trace: Sequence[Step], signals: Mapping[str, Signal] = SIGNALS) -> ColumnSegment:
    """Convert a trace to columns; every signal is carried in every frame, so that nothing ages."""
    log, carried = InputLog(), tuple(signals)
    for step in trace:
        log.append(step.at_s, 0.0, 0, carried, step.values, step.calls, step.missing_from_s)
    return ColumnBuilder(log, signals).build_segment(0, len(trace), {})


class _Present(dict[str, Value]):
    """Fresh values at the cursor's step."""

    def __init__(self, cursor: ColumnCursor) -> None:
        super().__init__()
        self._cursor = cursor

    def get(self, name: str, default: object = None) -> Value | None:  # type: ignore[override]  # noqa: ARG002
        column = self._cursor.segment.columns.get(name)
        return column.value_at(self._cursor.step) if column is not None else None

    def __contains__(self, name: object) -> bool:
        return self.get(str(name)) is not None


class ColumnRun:
    """One set of monitors with its trace."""

    def __init__(
        self,
        conditions: Mapping[str, Condition],
        trace: Sequence[Step],
        signals: Mapping[str, Signal] = SIGNALS,
    ) -> None:
        """Prepare the first step."""
        self._trace = trace
        self.cursor = ColumnCursor(segment_of(trace, signals))
        self.values: dict[str, Value] = _Present(self.cursor)
        self.monitors = ColumnMonitors(conditions, self, self.cursor, lossy=LOSSY)
        self.monitors.load_segment()

    def sample(self, name: str) -> Sample:
        """Sample at the cursor."""
        return self.cursor.segment.sample(name, self.cursor.step)

    def __iter__(self) -> Iterator[set[str]]:
        """Every step, with the ids that changed in it."""
        for number, step in enumerate(self._trace):
            self.cursor.step = number
            yield self.monitors.advance(step.at_s, (), step.calls, step.speakers)

    def changed_steps(self) -> Iterator[tuple[int, set[str]]]:
        """Only the steps at which something can change, with their numbers."""
        steps, sim_s = {*self.monitors.steps, 0}, self.cursor.segment.sim_s
        for number, step in enumerate(self._trace):
            if number in steps or step.calls or self.monitors.next_timer_s <= sim_s[number]:
                self.cursor.step = number
                yield number, self.monitors.advance(step.at_s, (), step.calls, step.speakers)
