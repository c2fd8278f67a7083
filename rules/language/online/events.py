"""The moments of an event: the first and the latest, those that are sure and those that may have been.

Takes: a condition's truth over time, or calls.  Gives: nodes that keep `Marks` for happened, before,
after, since, within and count.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple, Protocol, TypeAlias

from rules.language.online.runs import DataStartNode, RunTracker, ValueRun
from rules.language.online.scheduler import MonitorNode, Scheduler
from rules.language.truth import Truth

TimePoint: TypeAlias = tuple[float, int]
"""(time, 1), or (time, 0) for "just before that time": where a condition ceased, its last moment."""

NO_FIRST: TimePoint = (inf, 0)
NO_LAST: TimePoint = (-inf, 0)
NOW: TimePoint = (inf, 1)
"""The latest moment of what is still going on: it is later than anything that is over."""


class MomentBounds(NamedTuple):
    """First and latest moment, sure ones and possible ones (which take in the sure ones).

    `doubt_s` is the latest moment of which it is not known whether it was one, also before the
    beginning, which `may_first` and `may_last` leave out once the beginning has come.
    """

    sure_first: TimePoint = NO_FIRST
    sure_last: TimePoint = NO_LAST
    possible_first: TimePoint = NO_FIRST
    possible_last: TimePoint = NO_LAST
    last_doubtful_s: float = -inf

    @property
    def has_happened(self) -> bool:
        """It has happened."""
        return self.sure_last != NO_LAST

    @property
    def may_have_happened(self) -> bool:
        """It has happened or may have."""
        return self.possible_last != NO_LAST

    def with_sure(self, first: TimePoint, last: TimePoint) -> MomentBounds:
        """With moments that were."""
        return MomentBounds(
            min(first, self.sure_first),
            max(last, self.sure_last),
            min(first, self.possible_first),
            max(last, self.possible_last),
            self.last_doubtful_s,
        )

    def with_doubtful(self, first: TimePoint, last: TimePoint, data_start_s: float) -> MomentBounds:
        """With moments that may have been; those before the beginning only as a doubt."""
        marks = self._replace(last_doubtful_s=max(last[0], self.last_doubtful_s))
        begun: TimePoint = (data_start_s, 1)
        if last < begun:
            return marks
        return marks._replace(
            possible_first=min(max(first, begun), self.possible_first),
            possible_last=max(last, self.possible_last),
        )


class MomentListener(Protocol):
    """Who wants to hear of every sure moment that is over."""

    def add(self, key_s: float, moment_s: float) -> None:
        """Take a moment; `key_s` names the run it belongs to, which may come again, longer."""

    def drop(self, key_s: float) -> None:
        """Forget the moment of this run, if it is still remembered."""


class EventNode(MonitorNode):
    """An event.  `present_s` is the moment of what is not over yet, infinity while it goes on."""

    __slots__ = ("bounds", "listeners", "present_key_s", "present_s")

    def __init__(self, *children: MonitorNode) -> None:
        super().__init__(*children)
        self.bounds = MomentBounds()
        self.listeners: list[MomentListener] = []
        self.present_s = -inf
        self.present_key_s = -inf


MAY_HAVE_BEEN_CALLED = MomentBounds(possible_first=(-inf, 1), possible_last=NOW, last_doubtful_s=inf)
"""Of a call that may have been made at any time without anybody entering it."""


class CallEventNode(EventNode):
    """A call: its moments are known, once it is known that calls are entered at all."""

    __slots__ = ("_call_times_s",)

    def __init__(self, *children: MonitorNode) -> None:
        super().__init__(*children)
        self._call_times_s: list[float] = []

    def set_unknown(self) -> None:
        """Nobody has entered a call of any kind: this one may have been made."""
        self._call_times_s.clear()
        self.bounds = MAY_HAVE_BEEN_CALLED

    def set_not_called(self) -> None:
        """Calls are entered, and this one was not made; one that was made does not count any more."""
        self._call_times_s.clear()
        self.bounds = MomentBounds()

    def record_call(self, now_s: float) -> None:
        """Somebody said it now."""
        self._call_times_s.append(now_s)
        self.bounds = self.bounds.with_sure((now_s, 1), (now_s, 1))
        for log in self.listeners:
            log.add(now_s, now_s)

    def undo_call(self) -> None:
        """It was not said after all: the latest moment goes, the earlier ones stay."""
        if not self._call_times_s:
            return
        made_s, kept_s = self._call_times_s.pop(), self._call_times_s
        self.bounds = MomentBounds().with_sure((kept_s[0], 1), (kept_s[-1], 1)) if kept_s else MomentBounds()
        if made_s not in kept_s:
            for log in self.listeners:
                log.drop(made_s)

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002 - a call changes by being made, never by itself
        """Only called after `made`, or to begin."""
        return True


class ConditionEventNode(EventNode):
    """The moments of a condition: when it rises, or all at which it is true.

    Until the beginning (`seen`) all that was unknown may have been one; `_early` has the marks so,
    `_kept` those that count once it has come.
    """

    __slots__ = ("_bounds_before_start", "_bounds_since_start", "_data_start", "_part", "_rises", "_track")

    def __init__(
        self, scheduler: Scheduler, part: MonitorNode, data_start: DataStartNode, *, rises: bool
    ) -> None:
        super().__init__(part, data_start)
        self._part = part
        self._data_start = data_start
        self._rises = rises
        self._track: RunTracker[bool] = RunTracker(scheduler)
        self._bounds_since_start = self._bounds_before_start = MomentBounds()
        self.bounds = self._bounds_with(self._bounds_before_start, self._track.run, NOW, -inf)

    def refresh(self, now_s: float) -> bool:
        """Take the part's truth and whether it has begun; True where anything changed."""
        fed = self._part.truth is not self._track.run.value
        if fed:
            ended = self._track.update(self._part.truth)
            if ended is not None:
                self._end_run(ended, now_s)
        run, begun_s = self._track.run, self._data_start.data_start_s
        self.present_key_s = run.start_s
        self.present_s = self._moment_s(run, inf)
        if begun_s == inf:
            marks = self._bounds_with(self._bounds_before_start, run, NOW, -inf)
        else:
            marks = self._bounds_with(self._bounds_since_start, run, NOW, begun_s)
        changed = fed or marks != self.bounds
        self.bounds = marks
        return changed

    def _end_run(self, run: ValueRun[bool], end_s: float) -> None:
        """Make a run history."""
        self._bounds_before_start = self._bounds_with(self._bounds_before_start, run, (end_s, 0), -inf)
        self._bounds_since_start = self._bounds_with(
            self._bounds_since_start, run, (end_s, 0), self._data_start.data_start_s
        )
        moment_s = self._moment_s(run, end_s)
        if moment_s != -inf:
            for log in self.listeners:
                log.add(run.start_s, moment_s)

    def _moment_s(self, run: ValueRun[bool], end_s: float) -> float:
        """The latest sure moment of a run that goes to `end_s`; minus infinity for none."""
        if not run.value:
            return -inf
        if not self._rises:
            return end_s
        return run.start_s if run.previous is False else -inf

    def _bounds_with(
        self, bounds: MomentBounds, run: ValueRun[bool], end: TimePoint, data_start_s: float
    ) -> MomentBounds:
        """The marks with those of a run that goes to `end`."""
        start: TimePoint = (run.start_s, 1)
        if run.value is None:
            return bounds.with_doubtful(start, end, data_start_s)
        if run.value is False:
            return bounds
        if not self._rises:
            return bounds.with_sure(start, end)
        if run.previous is None:
            return bounds.with_doubtful(start, start, data_start_s)
        return bounds.with_sure(start, start) if run.previous is False else bounds


class SweepEventNode(EventNode):
    """Both limits reached; the moment is the older of the two latest reaches."""

    __slots__ = ("_completed_s", "_high", "_low", "_track")

    def __init__(self, scheduler: Scheduler, low: EventNode, high: EventNode) -> None:
        super().__init__(low, high)
        self._low, self._high = low, high
        self._track: RunTracker[TimePoint] = RunTracker(scheduler)
        self._completed_s = inf

    def refresh(self, now_s: float) -> bool:
        """Put the two together; True where anything changed."""
        low, high = self._low.bounds, self._high.bounds
        last, may_last = min(low.sure_last, high.sure_last), min(low.possible_last, high.possible_last)
        may_first = min(low.possible_first, high.possible_first) if may_last != NO_LAST else NO_FIRST
        first = self._first(now_s, last, min(may_last, (now_s, 1)))
        marks = MomentBounds(first, last, may_first, may_last, max(low.last_doubtful_s, high.last_doubtful_s))
        changed = marks != self.bounds
        self.bounds = marks
        self._notify_listeners(last)
        return changed

    def _first(self, now_s: float, last: TimePoint, moment: TimePoint) -> TimePoint:
        """The moment of the first full sweep, fixed when it is complete."""
        if last == NO_LAST:
            self._completed_s = inf
            return NO_FIRST
        if now_s <= self._completed_s:
            self._completed_s = now_s
            return moment
        return self.bounds.sure_first

    def _notify_listeners(self, last: TimePoint) -> None:
        """Give the logs each sweep that a later one has followed."""
        if last == (self._track.run.value or NO_LAST):
            return
        ended = self._track.update(None if last == NO_LAST else last)
        if ended is not None and ended.value is not None:
            for log in self.listeners:
                log.add(ended.start_s, ended.value[0])
        self.present_key_s = self._track.run.start_s
        self.present_s = last[0]


def is_before(first: MomentBounds, second: MomentBounds) -> Truth:
    """First before second: first has happened, and not only after the latest second.

    True where even the fewest and least happy possible moments give it, False where not even the best do.
    """
    if not first.may_have_happened or (second.has_happened and first.possible_first > second.possible_last):
        return False
    latest = second.sure_last if second.has_happened else second.possible_first
    if first.has_happened and (not second.may_have_happened or first.sure_first <= latest):
        return True
    return None


def is_after(first: MomentBounds, second: MomentBounds) -> Truth:
    """First after second: both have happened, and the latest first is later than the latest second."""
    earliest = second.sure_last if second.has_happened else second.possible_first
    if not (first.may_have_happened and second.may_have_happened and first.possible_last > earliest):
        return False
    return (
        True
        if first.has_happened and second.has_happened and first.sure_last > second.possible_last
        else None
    )
