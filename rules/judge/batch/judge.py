"""A core that judges a tape: it goes only to the steps at which something can come of it.

Such steps are those at which a condition changes, a signal comes or goes, a call is made, somebody asks for something, a timer
is due or a strip keeps a row.  At each of them it does exactly what the live core does.

Takes: a pack, papers, a tape.  Gives: entries.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import Protocol, runtime_checkable

import numpy as np

from rules.judge.batch.figures import ColumnFigureEvaluator, add_figure_columns
from rules.judge.batch.signal_activity import ColumnSignalActivity
from rules.judge.batch.state import ColumnState
from rules.judge.condition_ids import monitored_conditions
from rules.judge.events import CallEntered, JudgeEvent
from rules.judge.figures import FigureEvaluator
from rules.judge.judge import Judge, TripValues
from rules.judge.signal_activity import SignalActivity
from rules.language.batch import ColumnCursor, ColumnMonitors
from rules.language.online import Monitors
from rules.packs.model import Pack
from rules.signals.column_builder import ColumnBuilder
from rules.signals.columns import ColumnSegment
from rules.signals.input_log import InputLog
from rules.signals.model import Frame, Value
from rules.signals.state import SignalState


@runtime_checkable
class BatchRequest(Protocol):
    """A request on the tape."""

    def trip_values(self, pack: Pack) -> Mapping[str, Value]:
        """The papers that it brings, by signal name; none where it brings none or will not be granted."""

    def apply(self, judge: Judge) -> list[JudgeEvent]:
        """Ask it; what cannot be granted changes nothing."""


class BatchJudge(Judge):
    """Judges one tape, once."""

    def __init__(
        self, pack: Pack, trip: TripValues, input_log: InputLog, *, calls_entered: bool = False
    ) -> None:
        """Get ready.

        Args:
            pack: The rules.
            trip: The papers' values.
            input_log: What went in; each request on it is `Asked`.
            calls_entered: As of the live core.

        Raises:
            Unusual: The tape has to be judged frame by frame.
        """
        self._input_log = input_log
        self._columns = ColumnBuilder(input_log, pack.signals)
        nothing = ColumnSegment(Frame("", 0.0, 0.0, 0, (), ()), np.zeros(1), {}, {}, {}, {})
        self._cursor = ColumnCursor(nothing)
        self._last = 0
        super().__init__(pack, trip, calls_entered=calls_entered)

    def _make_evaluation(
        self, pack: Pack, *, steady: bool, calls_entered: bool
    ) -> tuple[SignalState, FigureEvaluator, Monitors]:
        del steady
        self._state = ColumnState(pack.signals, self._cursor)
        figures = ColumnFigureEvaluator(pack, self._state)
        conditions = monitored_conditions(pack)
        self._monitors = ColumnMonitors(
            conditions, self._state, self._cursor, calls_entered=calls_entered, names=figures
        )
        return self._state, figures, self._monitors

    def _make_activity(
        self, values: Collection[str], readers: Mapping[str, Collection[str]]
    ) -> SignalActivity:
        self._column_activity = ColumnSignalActivity(values, readers, self._cursor)
        return self._column_activity

    @property
    def frame_number(self) -> int:
        """The number on the tape of the frame that was judged last."""
        return self._cursor.segment.frame_number_at(self._cursor.step)

    def run(self) -> Iterator[list[JudgeEvent]]:
        """Judge it all.

        Yields:
            The entries of each step that has any, in the order in which the live core says them.

        Raises:
            Unusual: The tape has to be judged frame by frame; nothing that was said counts then.
        """
        for mark in self._input_log.initial_requests():
            yield _as_request(mark).apply(self)
        standing: dict[str, Value | None] = {}
        for first, end in self._input_log.epoch_ranges():
            stretch = self._columns.build_segment(
                first, end, {**standing, **self._trip_values}, self._trip_values_of
            )
            add_figure_columns(self.context.pack.figures, stretch)
            self._cursor.segment, self._cursor.step = stretch, 0
            yield from self._judge_stretch(stretch)
            standing = self._lasting_values(stretch)

    def _trip_values_of(self, mark: object) -> Mapping[str, Value]:
        return _as_request(mark).trip_values(self.context.pack)

    def _lasting_values(self, stretch: ColumnSegment) -> dict[str, Value | None]:
        """What does not age, and so outlasts the stretch."""
        figures = {figure.signal.name for figure in self.context.pack.figures}
        return {
            name: column.value_at(len(stretch) - 1)
            for name, column in stretch.columns.items()
            if self.context.pack.signals[name].max_age_s <= 0 and name not in figures
        }

    def _judge_stretch(self, stretch: ColumnSegment) -> Iterator[list[JudgeEvent]]:
        """Judge one stretch."""
        yield self._first_step(stretch)
        self._last = last = _last_step(stretch)
        eventful = {
            *self._monitors.steps,
            *self._column_activity.steps,
            *stretch.calls,
            *stretch.requests,
            last,
        }
        planned = sorted(step for step in eventful if step <= last)
        at, step = 0, 0
        while step < last:
            while planned[at] <= step:
                at += 1
            step = self._next_step(stretch, step, planned[at])
            entries = (
                self._apply_request(stretch, step)
                if step in stretch.requests
                else self._judge_step(stretch, step)
            )
            if entries:
                yield entries

    def _first_step(self, stretch: ColumnSegment) -> list[JudgeEvent]:
        """The first step: everything is looked at."""
        self._state.seek(0)
        self._restart(stretch.first_frame)
        self._monitors.load_segment()
        self._column_activity.load()
        calls, self._early_calls = (*self._early_calls, *self._calls_at(stretch, 0)), []
        self._step((), calls, full=True)
        return self.context.drain()

    def _next_step(self, stretch: ColumnSegment, step: int, planned: int) -> int:
        """The next step to go to."""
        if self._monitors.pending:
            following = step + 1
        else:
            due_s = min(self._monitors.next_timer_s, self.context.timers.next_s, self.traces.due_s)
            due = step + 1 if due_s <= stretch.sim_s[step] else planned
            if due == planned and due_s <= stretch.sim_s[planned]:
                due = int(stretch.sim_s.searchsorted(due_s, "left"))
            following = min(planned, due)
        while following in stretch.empty_steps:
            following += 1
        return following

    def _judge_step(self, stretch: ColumnSegment, step: int) -> list[JudgeEvent]:
        """What a frame or a look does."""
        self._state.seek(step)
        calls = self._calls_at(stretch, step)
        due_s = min(self.context.timers.next_s, self.traces.due_s)
        touched = step in self._column_activity.steps
        if calls or touched or step == self._last or due_s <= self._state.sim_s or self._monitors.go_to(step):
            self._step((), calls)
        return self.context.drain()

    def _apply_request(self, stretch: ColumnSegment, step: int) -> list[JudgeEvent]:
        """What a request does: all stands as the step before left it.

        What was told in that step still waits: it counts from the next one, and a request that is refused is none.
        """
        if not self._monitors.pending:
            self._monitors.go_to(step - 1)
        self.context.sim_s = float(stretch.sim_s[step - 1])
        self._state.seek(step)
        return _as_request(stretch.requests[step]).apply(self)

    def _calls_at(self, stretch: ColumnSegment, step: int) -> tuple[CallEntered, ...]:
        known = self.context.pack.calls
        made = stretch.calls.get(step, ())
        return tuple(CallEntered(self._state.sim_s, name, "") for name in made if name in known)


def _last_step(stretch: ColumnSegment) -> int:
    """The last step of a stretch at which anything is judged; its first always is."""
    last = len(stretch) - 1
    while last in stretch.empty_steps:
        last -= 1
    return last


def _as_request(mark: object) -> BatchRequest:
    if not isinstance(mark, BatchRequest):
        raise TypeError(f"a tape of {type(mark).__name__}")
    return mark
