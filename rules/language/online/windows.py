"""Numbers over a window of time: highest, lowest, change, rate, and how often an event happened.

Takes: a term's reader and the window's length; an event.  Gives: cells whose value follows both the
signal and the clock.  Memory is bounded by the window: what has left it is dropped.
"""

from __future__ import annotations

from collections import deque
from math import inf

from rules.language.equality import FULL_CIRCLE_DEG
from rules.language.online.closures import Lookup, Reader
from rules.language.online.events import EventNode
from rules.language.online.runs import DataStartNode, RunTracker, ValueRun
from rules.language.online.scheduler import MonitorNode, NumberNode, Scheduler


class SignalNode(NumberNode):
    """A signal's value as of the step's time.

    The state may be ahead: while timers of the time between two steps run, it has the values of the
    later step already.  What a timer can wake reads signals through this.
    """

    __slots__ = ("_get", "_name")

    def __init__(self, get: Lookup, name: str) -> None:
        super().__init__()
        self._get = get
        self._name = name
        self.signals = frozenset((name,))

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002 - only looked at when a sample came
        """Take the value; True where it changed."""
        old, self.value = self.value, self._get(self._name)
        return old != self.value


class WindowNode(NumberNode):
    """A term over [now - span, now].  `gap_s` is until when the term was last unknown."""

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
        """Take the term's value, drop what has left the window; True where the result changed."""
        value = self._read()
        if value != self.track.run.value:
            self._end_run(self.track.update(value), now_s)
        past = self._past
        while past and past[0][1] + self.span_s <= now_s:
            past.popleft()
        result = self._value_at(now_s)
        self._scheduler.wake_at(self, self._next_change_s(now_s))
        if result == self.value:
            return False
        self.value = result
        return True

    def _end_run(self, run: ValueRun[float] | None, end_s: float) -> None:
        """Make a run history."""
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

    def _value_at(self, now_s: float) -> float | None:
        """The value for this moment."""
        present = self.track.run.value
        if present is None or self.unknown_until_s + self.span_s > now_s:
            return None
        return self._window_value(present)

    def _window_value(self, present: float) -> float:
        raise NotImplementedError

    def _next_change_s(self, now_s: float) -> float:
        """When the result may change by itself."""
        if self.unknown_until_s + self.span_s > now_s:
            return self.unknown_until_s + self.span_s
        return self._past[0][1] + self.span_s if self._past else inf


class ExtremeNode(WindowNode):
    """The highest (`sign` 1) or lowest (-1); the past keeps only what a later value has not outdone."""

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
        """What was unknown before the beginning is no gap: the window uses what there is."""
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


class ChangeNode(WindowNode):
    """Now less then, or that per second; on a direction the short way round."""

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
            half = FULL_CIRCLE_DEG / 2
            change = (change + half) % FULL_CIRCLE_DEG - half
        return change / self._per_s


class EventCountNode(NumberNode):
    """How often an event happened in (now - span, now]; unknown while one moment in it is in doubt."""

    __slots__ = ("_event", "_past", "_scheduler", "_span_s")

    def __init__(self, scheduler: Scheduler, event: EventNode, span_s: float) -> None:
        super().__init__(event)
        self._scheduler = scheduler
        self._event = event
        self._span_s = span_s
        self._past: deque[tuple[float, float]] = deque()  # key, moment
        event.listeners.append(self)

    def add(self, key_s: float, moment_s: float) -> None:
        """Take a moment that is over; the same key again replaces it."""
        if self._past and self._past[-1][0] == key_s:
            self._past.pop()
        self._past.append((key_s, moment_s))

    def drop(self, key_s: float) -> None:
        """Forget the moment of this run, which is the latest one."""
        if self._past and self._past[-1][0] == key_s:
            self._past.pop()

    def refresh(self, now_s: float) -> bool:
        """Count; True where the number changed."""
        past, span_s, event = self._past, self._span_s, self._event
        while past and past[0][1] + span_s <= now_s:
            past.popleft()
        doubt_s, present_s = event.bounds.last_doubtful_s + span_s, event.present_s + span_s
        value = None if doubt_s > now_s else self._count(present=present_s > now_s)
        for due_s in (doubt_s, present_s, past[0][1] + span_s if past else inf):
            self._scheduler.wake_at(self, due_s)
        if value == self.value:
            return False
        self.value = value
        return True

    def _count(self, *, present: bool) -> float:
        again = bool(self._past) and self._past[-1][0] == self._event.present_key_s
        return float(len(self._past) - again + present)
