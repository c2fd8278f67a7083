"""Evaluates conditions on events, such as `A before B`, where missing data leaves the time of an event uncertain.

Data may be missing when an event happens, so each event has bounds (`moment_bounds.py`).

Takes: a condition's truth over time.  Gives: nodes with `MomentBounds` for happened, before,
after, since, within and count.
"""

from __future__ import annotations

from math import inf
from typing import Generic, Protocol, TypeVar

from rules.language.online.moment_bounds import NO_FIRST, NO_LAST, NOW, MomentBounds, TimePoint
from rules.language.online.runs import DataStartNode, RunTracker, SignalNode, ValueRun
from rules.language.online.scheduler import MonitorNode, Scheduler
from rules.language.truth import Truth
from rules.signals.model import Value

V = TypeVar("V")


class MomentListener(Protocol):
    """Receives every certain moment that is over."""

    def add(self, key_s: float, moment_s: float) -> None:
        """Add a moment; `key_s` identifies its run, which may be added again with a later end."""

    def drop(self, key_s: float) -> None:
        """Remove the moment of this run, if it is still stored."""


class EventNode(MonitorNode):
    """Event with bounds.  `present_s` is the moment of the run that is not over yet, infinity while it continues."""

    __slots__ = ("bounds", "listeners", "present_key_s", "present_s")

    def __init__(self, *children: MonitorNode) -> None:
        super().__init__(*children)
        self.bounds = MomentBounds()
        self.listeners: list[MomentListener] = []
        self.present_s = -inf
        self.present_key_s = -inf

    @property
    def known_from_s(self) -> float:
        """Time from which all signals that it reads have been fresh once, infinity before that."""
        return -inf


class RunEventNode(EventNode, Generic[V]):
    """Moments of the runs of a value; the subclasses say which runs have moments.

    Until all its signals have been fresh once (`data_start`), every unknown moment is a possible one:
    `_bounds_before_start` has those bounds, `_bounds_since_start` those that count afterwards.
    """

    __slots__ = ("_bounds_before_start", "_bounds_since_start", "_data_start", "_track")

    def __init__(self, scheduler: Scheduler, source: MonitorNode, data_start: DataStartNode) -> None:
        super().__init__(source, data_start)
        self._data_start = data_start
        self._track: RunTracker[V] = RunTracker(scheduler)
        self._bounds_since_start = self._bounds_before_start = MomentBounds()
        self.bounds = self._bounds_with(self._bounds_before_start, self._track.run, NOW, -inf)

    @property
    def known_from_s(self) -> float:
        """Time from which all signals that it reads have been fresh once, infinity before that."""
        return self._data_start.data_start_s

    def refresh(self, now_s: float) -> bool:
        """Read the value and the start of the data; True where anything changed."""
        value = self._value()
        value_changed = value != self._track.run.value
        if value_changed:
            ended = self._track.update(value)
            if ended is not None:
                self._end_run(ended, now_s)
        run, data_start_s = self._track.run, self._data_start.data_start_s
        self.present_key_s = run.start_s
        self.present_s = self._moment_s(run, inf)
        if data_start_s == inf:
            bounds = self._bounds_with(self._bounds_before_start, run, NOW, -inf)
        else:
            bounds = self._bounds_with(self._bounds_since_start, run, NOW, data_start_s)
        changed = value_changed or bounds != self.bounds
        self.bounds = bounds
        return changed

    def _end_run(self, run: ValueRun[V], end_s: float) -> None:
        """Add a finished run to the bounds, and notify the listeners."""
        self._bounds_before_start = self._bounds_after(self._bounds_before_start, run, end_s, -inf)
        self._bounds_since_start = self._bounds_after(
            self._bounds_since_start, run, end_s, self._data_start.data_start_s
        )
        moment_s = self._moment_s(run, end_s)
        if moment_s != -inf:
            for listener in self.listeners:
                listener.add(run.start_s, moment_s)

    def _bounds_after(
        self, bounds: MomentBounds, run: ValueRun[V], end_s: float, data_start_s: float
    ) -> MomentBounds:
        """Add a finished run; the run after it decides whether an unknown one is likely (`_with_doubt_before`)."""
        added = self._bounds_with(bounds, run, (end_s, 0), data_start_s)
        if run.value is not None:
            return added
        return added._replace(likely_first=bounds.likely_first, likely_last=bounds.likely_last)

    def _with_doubt_before(self, bounds: MomentBounds, run: ValueRun[V], data_start_s: float) -> MomentBounds:
        """Make the unknown time before a run likely, unless the run bridges it."""
        if run.unknown_s == inf or run.bridges:
            return bounds
        return bounds.with_likely((run.unknown_s, 1), (run.start_s, 0), data_start_s)

    def _value(self) -> V | None:
        """Give the present value, None for unknown."""
        raise NotImplementedError

    def _moment_s(self, run: ValueRun[V], end_s: float) -> float:
        """Give the latest certain moment of a run that lasts until `end_s`; minus infinity for none."""
        raise NotImplementedError

    def _bounds_with(
        self, bounds: MomentBounds, run: ValueRun[V], end: TimePoint, data_start_s: float
    ) -> MomentBounds:
        """Add the moments of a run that lasts until `end`."""
        raise NotImplementedError


class ConditionEventNode(RunEventNode[bool]):
    """Moments of a condition: its rises, or all moments at which it is true.

    `first_known_s` is the time of its first known truth, infinity before that; `began_true` says that this was true.
    """

    __slots__ = ("_first_s", "_part", "_rises", "began_true", "first_known_s")

    def __init__(
        self, scheduler: Scheduler, part: MonitorNode, data_start: DataStartNode, *, rises: bool
    ) -> None:
        self._part = part
        self._rises = rises
        self._first_s = self.first_known_s = inf
        self.began_true = False
        super().__init__(scheduler, part, data_start)

    def refresh(self, now_s: float) -> bool:
        """Read the truth; of several at the first moment the last counts."""
        changed, run = super().refresh(now_s), self._track.run
        if now_s > self._first_s:
            return changed
        self._first_s = inf if run.value is None else now_s
        began = (inf if run.value is None else run.start_s, bool(run.value))
        changed |= began != (self.first_known_s, self.began_true)
        self.first_known_s, self.began_true = began
        return changed

    def _value(self) -> Truth:
        return self._part.truth

    def _moment_s(self, run: ValueRun[bool], end_s: float) -> float:
        if not run.value:
            return -inf
        if not self._rises:
            return end_s
        return run.start_s if run.previous is False else -inf

    def _bounds_with(
        self, bounds: MomentBounds, run: ValueRun[bool], end: TimePoint, data_start_s: float
    ) -> MomentBounds:
        start: TimePoint = (run.start_s, 1)
        if run.value is None:
            return bounds.with_doubtful(start, end, data_start_s)
        bounds = self._with_doubt_before(bounds, run, data_start_s)
        if run.value is False:
            return bounds
        if not self._rises:
            return bounds.with_sure(start, end)
        if run.previous is None:
            if run.known_before is False:
                bounds = bounds.with_sure(start, (run.unknown_s, 1))
            return bounds.with_doubtful(start, start, data_start_s, likely=not run.bridges)
        return bounds.with_sure(start, start) if run.previous is False else bounds


class ChangedEventNode(RunEventNode[Value]):
    """Moments at which a signal has another value than just before; both must be known.

    time      0     5     10    15
    value     off | ?   | off | on
    moments                     ^ certain at 15
                    possible from 5 to 10
    """

    __slots__ = ("_signal",)

    def __init__(self, scheduler: Scheduler, signal: SignalNode, data_start: DataStartNode) -> None:
        self._signal = signal
        super().__init__(scheduler, signal, data_start)

    def _value(self) -> Value | None:
        return self._signal.value

    def _moment_s(self, run: ValueRun[Value], end_s: float) -> float:  # noqa: ARG002 - a change has one moment
        return run.start_s if None not in (run.value, run.previous) and run.value != run.previous else -inf

    def _bounds_with(
        self, bounds: MomentBounds, run: ValueRun[Value], end: TimePoint, data_start_s: float
    ) -> MomentBounds:
        start: TimePoint = (run.start_s, 1)
        if run.value is None:
            return bounds.with_doubtful(start, end, data_start_s)
        bounds = self._with_doubt_before(bounds, run, data_start_s)
        if run.previous is None:
            # The first value of all shows no change: what was before it is no part of the past that is known.
            first = (run.start_s, 0) if run.start_s <= data_start_s else start
            if run.known_before is not None and run.known_before != run.value:
                bounds = bounds.with_sure(start, (run.unknown_s, 1))
            return bounds.with_doubtful(start, first, data_start_s, likely=not run.bridges)
        return bounds.with_sure(start, start) if run.value != run.previous else bounds


class SweepEventNode(EventNode):
    """Sweep: both limits reached; its moment is the earlier of the times at which each limit was reached last."""

    __slots__ = ("_completed_s", "_high", "_low", "_track")

    def __init__(self, scheduler: Scheduler, low: EventNode, high: EventNode) -> None:
        super().__init__(low, high)
        self._low, self._high = low, high
        self._track: RunTracker[TimePoint] = RunTracker(scheduler)
        self._completed_s = inf

    @property
    def known_from_s(self) -> float:
        """Time from which the signals of both limits have been fresh once."""
        return max(self._low.known_from_s, self._high.known_from_s)

    def refresh(self, now_s: float) -> bool:
        """Combine the bounds of both limits; True where anything changed."""
        low, high = self._low.bounds, self._high.bounds
        last, may_last = min(low.sure_last, high.sure_last), min(low.possible_last, high.possible_last)
        may_first = min(low.possible_first, high.possible_first) if may_last != NO_LAST else NO_FIRST
        first = self._first(now_s, last, min(may_last, (now_s, 1)))
        likely_last = min(low.likely_last, high.likely_last)
        likely_first = min(low.likely_first, high.likely_first) if likely_last != NO_LAST else NO_FIRST
        doubtful_s = max(low.last_doubtful_s, high.last_doubtful_s)
        bounds = MomentBounds(first, last, may_first, may_last, doubtful_s, likely_first, likely_last)
        changed = bounds != self.bounds
        self.bounds = bounds
        self._notify_listeners(last)
        return changed

    def _first(self, now_s: float, last: TimePoint, moment: TimePoint) -> TimePoint:
        """Give the moment of the first full sweep, fixed when it is complete."""
        if last == NO_LAST:
            self._completed_s = inf
            return NO_FIRST
        if now_s <= self._completed_s:
            self._completed_s = now_s
            return moment
        return self.bounds.sure_first

    def _notify_listeners(self, last: TimePoint) -> None:
        """Notify the listeners of each sweep that is followed by a later one."""
        if last == (self._track.run.value or NO_LAST):
            return
        ended = self._track.update(None if last == NO_LAST else last)
        if ended is not None and ended.value is not None:
            for listener in self.listeners:
                listener.add(ended.start_s, ended.value[0])
        self.present_key_s = self._track.run.start_s
        self.present_s = last[0]
