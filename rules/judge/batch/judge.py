"""Judge of an input log that visits only the steps at which an event can arise.

Those are the steps at which a condition or the freshness of a signal changes, a call or a request comes, a timer is due
or a trace takes a sample.  At each of them it runs the same code as `Judge`.

Takes: a pack, trip values, an input log.  Gives: events.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import Protocol, runtime_checkable

import numpy as np

from rules.judge.batch.figures import ColumnFigureEvaluator, add_figure_columns
from rules.judge.batch.signal_activity import ColumnSignalActivity
from rules.judge.batch.state import ColumnState
from rules.judge.condition_ids import as_seen_ids, monitored_conditions
from rules.judge.events import CallEntered, JudgeEvent
from rules.judge.figures import lossy_signals
from rules.judge.judge import Judge, TripValues
from rules.judge.signal_activity import SignalActivity
from rules.judge.stepper import Evaluation
from rules.language.batch import ColumnCursor, ColumnMonitors
from rules.language.online import CallAvailability
from rules.packs.model import Pack
from rules.packs.trip_values import STRIPS
from rules.signals.column_builder import ColumnBuilder
from rules.signals.columns import ColumnSegment
from rules.signals.input_log import InputLog, NotColumnar
from rules.signals.model import Frame, Value


@runtime_checkable
class BatchRequest(Protocol):
    """A request in the input log."""

    def trip_values(self, pack: Pack) -> Mapping[str, Value]:
        """Trip values that it sets, by signal name; empty where it sets none or will be refused."""

    def apply(self, judge: Judge) -> list[JudgeEvent]:
        """Make the request to the judge; a refused request changes nothing."""


# Which steps of a segment are visited (|), and why the others give no event:
#
#     step          0    1    2    3    4    5    6    7    8    9
#     frames        |    .    .    .    .    |    |    .    .    |
#     because       first               hold   call      timer   last
#                                       true   entered   due
#
# Between two visited steps no condition changes its truth, no signal becomes fresh or stale, no call or request comes and
# no timer is due: `Judge` would run its parts on nothing.  A timer is set only at a visited step, so the next due time is
# known when the step after it is chosen.  Where a visited step leaves changes that count from the following step on
# (`pending`), that step is visited too.


class BatchJudge(Judge):
    """Judges one input log, once."""

    def __init__(
        self, pack: Pack, trip: TripValues, input_log: InputLog, *, calls_entered: bool = False
    ) -> None:
        """Prepare the columns and the monitors.

        Args:
            pack: The rules.
            trip: Trip values.
            input_log: The inputs; each request in it is a `BatchRequest`.
            calls_entered: As for `Judge`.

        Raises:
            NotColumnar: The input log has to be judged frame by frame.
        """
        self._input_log = input_log
        self._columns = ColumnBuilder(input_log, pack.signals)
        nothing = ColumnSegment(Frame("", 0.0, 0.0, 0, (), ()), np.zeros(1), {}, {}, {}, {})
        self._cursor = ColumnCursor(nothing)
        self._last = 0
        super().__init__(pack, trip, calls_entered=calls_entered)

    def _make_evaluation(self, *, steady: bool, calls: CallAvailability) -> Evaluation:
        del steady
        self._state = ColumnState(self.pack.signals, self._cursor)
        figures = ColumnFigureEvaluator(self.pack, self._state)
        conditions = monitored_conditions(self.pack)
        self._monitors = ColumnMonitors(
            conditions,
            self._state,
            self._cursor,
            calls=calls,
            names=figures,
            lossy=lossy_signals(self.pack),
            as_seen=as_seen_ids(self.pack),
        )
        return Evaluation(self._state, figures, self._monitors, self._make_activity)

    def _make_activity(
        self, values: Collection[str], readers: Mapping[str, Collection[str]]
    ) -> SignalActivity:
        self._column_activity = ColumnSignalActivity(values, readers, self._cursor)
        return self._column_activity

    @property
    def frame_number(self) -> int:
        """Number, within the input log, of the frame judged last."""
        return self._cursor.segment.frame_number_at(self._cursor.step)

    def run(self) -> Iterator[list[JudgeEvent]]:
        """Judge the whole input log.

        Yields:
            The events of each step that has any, in the order in which `Judge` gives them.

        Raises:
            NotColumnar: The input log has to be judged frame by frame; the events so far are void.
        """
        for request in self._input_log.initial_requests():
            yield _as_request(request).apply(self)
        lasting: dict[str, Value | None] = {}
        for first, end in self._input_log.epoch_ranges():
            segment = self._columns.build_segment(
                first, end, {**lasting, **self._trip_values}, self._trip_values_of
            )
            add_figure_columns(self.pack.figures, segment)
            self._cursor.segment, self._cursor.step = segment, 0
            yield from self._judge_stretch(segment)
            lasting = self._lasting_values(segment)

    def _trip_values_of(self, request: object) -> Mapping[str, Value]:
        values = _as_request(request).trip_values(self.pack)
        # A runway without its place is refused where the sheet before has one, which only the judge frame by frame knows.
        strips = {name: self.pack.signals.keys() & strip for name, strip in STRIPS.items()}
        if any(name in values and not values.keys() >= strip for name, strip in strips.items()):
            raise NotColumnar("an amended sheet has a runway without its place")
        return values

    def _lasting_values(self, segment: ColumnSegment) -> dict[str, Value | None]:
        """Values that do not age, and so carry over to the next segment."""
        figures = {figure.signal.name for figure in self.pack.figures}
        return {
            name: column.value_at(len(segment) - 1)
            for name, column in segment.columns.items()
            if self.pack.signals[name].max_age_s <= 0 and name not in figures
        }

    def _judge_stretch(self, segment: ColumnSegment) -> Iterator[list[JudgeEvent]]:
        """Judge one segment."""
        yield self._first_step(segment)
        self._last = last = _last_step(segment)
        eventful = {
            *self._monitors.steps,
            *self._column_activity.steps,
            *segment.calls,
            *segment.requests,
            last,
        }
        planned = sorted(step for step in eventful if step <= last)
        at, step = 0, 0
        while step < last:
            while planned[at] <= step:
                at += 1
            step = self._next_step(segment, step, planned[at])
            entries = (
                self._apply_request(segment, step)
                if step in segment.requests
                else self._judge_step(segment, step)
            )
            if entries:
                yield entries

    def _first_step(self, segment: ColumnSegment) -> list[JudgeEvent]:
        """Judge the first step of a segment: evaluate everything."""
        self._state.seek(0)
        self._restart(segment.first_frame, calls_sent=bool(segment.calls.get(0)))
        self._monitors.load_segment()
        self._column_activity.load()
        calls, self._early_calls = (*self._early_calls, *self._calls_at(segment, 0)), []
        self._stepper.step((), calls, full=True)
        return self._context.drain()

    def _next_step(self, segment: ColumnSegment, step: int, planned: int) -> int:
        """Find the next step to visit."""
        if self._monitors.pending:
            following = step + 1
        else:
            due_s = min(self._monitors.next_timer_s, self._context.timers.next_s, self._stepper.traces.due_s)
            due = step + 1 if due_s <= segment.sim_s[step] else planned
            if due == planned and due_s <= segment.sim_s[planned]:
                due = int(segment.sim_s.searchsorted(due_s, "left"))
            following = min(planned, due)
        while following in segment.empty_steps:
            following += 1
        return following

    def _judge_step(self, segment: ColumnSegment, step: int) -> list[JudgeEvent]:
        """Judge a frame, or the passing of time."""
        self._state.seek(step)
        calls = self._calls_at(segment, step)
        due_s = min(self._context.timers.next_s, self._stepper.traces.due_s)
        touched, unknown = step in self._column_activity.steps, list[str]()
        if step in segment.gaps:
            touched, unknown = True, self._stepper.note_gap(segment.gaps[step], segment.gap_records.get(step))
        if calls or touched or step == self._last or due_s <= self._state.sim_s or self._monitors.go_to(step):
            self._stepper.step((), calls, touched=unknown)
        return self._context.drain()

    def _apply_request(self, segment: ColumnSegment, step: int) -> list[JudgeEvent]:
        """Apply a request to the state that the step before left.

        Calls entered in that step stay pending until the next one, since a refused request counts as no step.
        """
        #     step        4 (frame)    5 (request)    6 (frame)
        #     time        12.0 s       12.0 s         12.5 s
        #     monitors    at 4 ------->               go_to(6)
        #
        # The request meets the conditions as step 4 left them; only the values that it sets are read at step 5.
        if not self._monitors.pending:
            self._monitors.go_to(step - 1)
        self._context.sim_s = float(segment.sim_s[step - 1])
        self._state.seek(step)
        return _as_request(segment.requests[step]).apply(self)

    def _calls_at(self, segment: ColumnSegment, step: int) -> tuple[CallEntered, ...]:
        known = self.pack.calls
        entered = segment.calls.get(step, ())
        return tuple(CallEntered(self._state.sim_s, name, "") for name in entered if name in known)


def _last_step(segment: ColumnSegment) -> int:
    """Last step of a segment that is not empty; the first step never is."""
    last = len(segment) - 1
    while last in segment.empty_steps:
        last -= 1
    return last


def _as_request(request: object) -> BatchRequest:
    if not isinstance(request, BatchRequest):
        raise TypeError(f"expected a BatchRequest in the input log, got {type(request).__name__}")
    return request
