"""Windows of time: highest, lowest, average, change, rate, and the number of times that an event happened.

Memory is bounded by the window: a value is dropped when it has left.  Highest and lowest also drop values that can
never count again, so that the deque falls from the front and its front is the maximum of the past:

    values    5   3   4   2        in the window, oldest first
    deque     5       4   2        3 is dropped when 4 comes: it is lower, and leaves earlier

Takes: a term's reader and the window's length; an event.  Gives: nodes whose value follows both the
signal and the clock.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from math import inf

from rules.language.averages import Run, average_of, latest_point_s, next_point_s
from rules.language.online.closures import Reader
from rules.language.online.events import EventNode
from rules.language.online.runs import DataStartNode, RunTracker, ValueRun
from rules.language.online.scheduler import MonitorNode, NumberNode, Scheduler
from rules.signals.equality import short_way_deg


class WindowNode(NumberNode):
    """Term over [now - span, now].  `unknown_until_s` is the end of the latest unknown time."""

    __slots__ = ("_past", "_read", "_scheduler", "span_s", "track", "unknown_until_s")

    def __init__(
        self, scheduler: Scheduler, read: Reader, span_s: float, children: tuple[MonitorNode, ...]
    ) -> None:
        super().__init__(*children)
        self._scheduler = scheduler
        self._read = read
        self.span_s = span_s
        self.track: RunTracker[float] = RunTracker(scheduler)
        self.unknown_until_s = -inf
        self._past: deque[tuple[float, float]] = deque()  # value, end

    def refresh(self, now_s: float) -> bool:
        """Read the term's value, drop values that have left the window; True where the result changed."""
        # Some ten windows are refreshed in every frame, so this one function does all but what the kinds of windows differ in.
        value, past, span_s = self._read(), self._past, self.span_s
        if value != self.track.run.value:
            self._end_run(self.track.update(value), now_s)
        while past and past[0][1] + span_s <= now_s:
            past.popleft()
        present, known_again_s = self.track.run.value, self.unknown_until_s + span_s
        result = None if present is None or known_again_s > now_s else self._window_value(present)
        if known_again_s > now_s:
            self._scheduler.wake_at(self, known_again_s)
        elif past:
            self._scheduler.wake_at(self, past[0][1] + span_s)
        if result == self.value:
            return False
        self.value = result
        return True

    def _end_run(self, run: ValueRun[float] | None, end_s: float) -> None:
        """Add a finished run to the past."""
        if run is None:
            return
        if run.value is None:
            self._record_gap(end_s)
        else:
            self._push(run.value, end_s)

    def _record_gap(self, end_s: float) -> None:
        self.unknown_until_s = end_s

    def _push(self, value: float, end_s: float) -> None:
        self._past.append((value, end_s))

    def _window_value(self, present: float) -> float:
        """Compute the result from the past and the present value, all known."""
        raise NotImplementedError


class ExtremeNode(WindowNode):
    """Highest (`sign` 1) or lowest (-1); stores only values that a later one has not exceeded."""

    __slots__ = ("_data_start", "_sign")

    def __init__(
        self,
        scheduler: Scheduler,
        read: Reader,
        span_s: float,
        children: tuple[MonitorNode, ...],
        data_start: DataStartNode,
        sign: int,
    ) -> None:
        super().__init__(scheduler, read, span_s, (*children, data_start))
        self._data_start = data_start
        self._sign = sign

    def _record_gap(self, end_s: float) -> None:
        """Record an unknown time; before the start of the data it does not count."""
        if end_s > self._data_start.data_start_s:
            self.unknown_until_s = end_s

    def _push(self, value: float, end_s: float) -> None:
        past, signed = self._past, self._sign * value
        while past and self._sign * past[-1][0] <= signed:
            past.pop()
        past.append((value, end_s))

    def _window_value(self, present: float) -> float:
        if not self._past:
            return present
        best = self._past[0][0]
        return best if self._sign * best > self._sign * present else present


class AverageNode(WindowNode):
    """Average of the values, weighted by their time; computed at the times of `rules.language.averages`."""

    __slots__ = ("_computed",)

    def __init__(
        self, scheduler: Scheduler, read: Reader, span_s: float, children: tuple[MonitorNode, ...]
    ) -> None:
        super().__init__(scheduler, read, span_s, children)
        self._computed = (-inf, 0.0)

    def refresh(self, now_s: float) -> bool:
        """Read the term's value, and compute the average where that is due; True where the result changed."""
        value = self._read()
        if value != self.track.run.value:
            self._end_run(self.track.update(value), now_s)
        point_s, past = latest_point_s(now_s, self.span_s), self._past
        if past and past[-1][1] > self.track.run.start_s:
            past.pop()  # the run goes on: what ended it lasted no time
        while past and past[0][1] <= point_s - self.span_s:
            past.popleft()
        result = self._average(point_s)
        self._scheduler.wake_at(self, self._next_point_s(now_s, point_s))
        if result == self.value:
            return False
        self.value = result
        return True

    def _average(self, point_s: float) -> float | None:
        """Give the average at the latest time of computation."""
        run = self.track.run
        if run.value is None or self.unknown_until_s > point_s - self.span_s:
            return None
        if not self._past:
            return run.value
        if self._computed[0] != point_s:
            self._computed = (point_s, average_of(list(self._runs(point_s)), point_s, self.span_s))
        return self._computed[1]

    def _runs(self, point_s: float) -> Iterator[Run]:
        """Give the runs that began before this time."""
        start_s, present = -inf, self.track.run
        for value, end_s in self._past:
            if start_s < point_s:
                yield start_s, end_s, value
            start_s = end_s
        if present.start_s < point_s and present.value is not None:
            yield present.start_s, inf, present.value

    def _next_point_s(self, now_s: float, point_s: float) -> float:
        """Time of the next computation; none while the value has been the same for the whole window."""
        settled = not self._past and self.unknown_until_s <= point_s - self.span_s
        return inf if settled or self.track.run.value is None else next_point_s(now_s, self.span_s)


class ChangeNode(WindowNode):
    """Present value less the value at the window's start, or that per second; for a direction the short way round."""

    __slots__ = ("_on_circle", "_per_s")

    def __init__(
        self,
        scheduler: Scheduler,
        read: Reader,
        span_s: float,
        children: tuple[MonitorNode, ...],
        *,
        rate: bool,
        on_circle: bool,
    ) -> None:
        super().__init__(scheduler, read, span_s, children)
        self._per_s = span_s if rate else 1.0
        self._on_circle = on_circle

    def _window_value(self, present: float) -> float:
        change = present - (self._past[0][0] if self._past else present)
        if self._on_circle:
            change = short_way_deg(change)
        return change / self._per_s


class EventCountNode(NumberNode):
    """Number of times that an event happened in (now - span, now]; unknown while a moment in it is uncertain."""

    __slots__ = ("_event", "_past", "_scheduler", "_span_s")

    def __init__(self, scheduler: Scheduler, event: EventNode, span_s: float) -> None:
        super().__init__(event)
        self._scheduler = scheduler
        self._event = event
        self._span_s = span_s
        self._past: deque[tuple[float, float]] = deque()  # key, moment
        event.listeners.append(self)

    def add(self, key_s: float, moment_s: float) -> None:
        """Add a moment that is over; the same key again replaces it."""
        if self._past and self._past[-1][0] == key_s:
            self._past.pop()
        self._past.append((key_s, moment_s))

    def drop(self, key_s: float) -> None:
        """Remove the moment of this run, which is the latest one."""
        if self._past and self._past[-1][0] == key_s:
            self._past.pop()

    def refresh(self, now_s: float) -> bool:
        """Count the moments; True where the number changed."""
        past, span_s, event = self._past, self._span_s, self._event
        while past and past[0][1] + span_s <= now_s:
            past.popleft()
        doubtful_until_s, present_until_s = event.bounds.last_doubtful_s + span_s, event.present_s + span_s
        value = None if doubtful_until_s > now_s else self._count(present=present_until_s > now_s)
        for due_s in (doubtful_until_s, present_until_s, past[0][1] + span_s if past else inf):
            self._scheduler.wake_at(self, due_s)
        if value == self.value:
            return False
        self.value = value
        return True

    def _count(self, *, present: bool) -> float:
        again = bool(self._past) and self._past[-1][0] == self._event.present_key_s
        return float(len(self._past) - again + present)
