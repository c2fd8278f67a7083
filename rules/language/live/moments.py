"""The moments of an event: the first and the latest, those that are sure and those that may have been.

Takes: a condition's truth over time, or calls.  Gives: nodes that keep `Marks` for happened, before,
after, since, within and count.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple, Protocol, TypeAlias

from rules.language.live.agenda import Agenda, Node
from rules.language.live.track import Run, SeenNode, Track
from rules.language.truth import Truth

Moment: TypeAlias = tuple[float, int]
"""(time, 1), or (time, 0) for "just before that time": where a condition ceased, its last moment."""

NO_FIRST: Moment = (inf, 0)
NO_LAST: Moment = (-inf, 0)
NOW: Moment = (inf, 1)
"""The latest moment of what is still going on: it is later than anything that is over."""


class Marks(NamedTuple):
    """First and latest moment, sure ones and possible ones (which take in the sure ones).

    `doubt_s` is the latest moment of which it is not known whether it was one, also before the
    beginning, which `may_first` and `may_last` leave out once the beginning has come.
    """

    sure_first: Moment = NO_FIRST
    sure_last: Moment = NO_LAST
    may_first: Moment = NO_FIRST
    may_last: Moment = NO_LAST
    doubt_s: float = -inf

    @property
    def sure(self) -> bool:
        """It has happened."""
        return self.sure_last != NO_LAST

    @property
    def possible(self) -> bool:
        """It has happened or may have."""
        return self.may_last != NO_LAST

    def with_sure(self, first: Moment, last: Moment) -> Marks:
        """With moments that were."""
        return Marks(
            min(first, self.sure_first),
            max(last, self.sure_last),
            min(first, self.may_first),
            max(last, self.may_last),
            self.doubt_s,
        )

    def with_doubt(self, first: Moment, last: Moment, begun_s: float) -> Marks:
        """With moments that may have been; those before the beginning only as a doubt."""
        marks = self._replace(doubt_s=max(last[0], self.doubt_s))
        begun: Moment = (begun_s, 1)
        if last < begun:
            return marks
        return marks._replace(
            may_first=min(max(first, begun), self.may_first), may_last=max(last, self.may_last)
        )


class Log(Protocol):
    """Who wants to hear of every sure moment that is over."""

    def add(self, key_s: float, moment_s: float) -> None:
        """Take a moment; `key_s` names the run it belongs to, which may come again, longer."""

    def drop(self, key_s: float) -> None:
        """Forget the moment of this run, if it is still remembered."""


class Moments(Node):
    """An event.  `present_s` is the moment of what is not over yet, infinity while it goes on."""

    __slots__ = ("logs", "marks", "present_key_s", "present_s")

    def __init__(self, *children: Node) -> None:
        super().__init__(*children)
        self.marks = Marks()
        self.logs: list[Log] = []
        self.present_s = -inf
        self.present_key_s = -inf


UNHEARD = Marks(may_first=(-inf, 1), may_last=NOW, doubt_s=inf)
"""Of a call that may have been made at any time without anybody entering it."""


class CallMoments(Moments):
    """A call: its moments are known, once it is known that calls are entered at all."""

    __slots__ = ("_made_s",)

    def __init__(self, *children: Node) -> None:
        super().__init__(*children)
        self._made_s: list[float] = []

    def deafen(self) -> None:
        """Nobody has entered a call of any kind: this one may have been made."""
        self._made_s.clear()
        self.marks = UNHEARD

    def hear(self) -> None:
        """Calls are entered, and this one was not made; one that was made does not count any more."""
        self._made_s.clear()
        self.marks = Marks()

    def made(self, now_s: float) -> None:
        """Somebody said it now."""
        self._made_s.append(now_s)
        self.marks = self.marks.with_sure((now_s, 1), (now_s, 1))
        for log in self.logs:
            log.add(now_s, now_s)

    def take_back(self) -> None:
        """It was not said after all: the latest moment goes, the earlier ones stay."""
        if not self._made_s:
            return
        made_s, kept_s = self._made_s.pop(), self._made_s
        self.marks = Marks().with_sure((kept_s[0], 1), (kept_s[-1], 1)) if kept_s else Marks()
        if made_s not in kept_s:
            for log in self.logs:
                log.drop(made_s)

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002 - a call changes by being made, never by itself
        """Only called after `made`, or to begin."""
        return True


class PartMoments(Moments):
    """The moments of a condition: when it rises, or all at which it is true.

    Until the beginning (`seen`) all that was unknown may have been one; `_early` has the marks so,
    `_kept` those that count once it has come.
    """

    __slots__ = ("_early", "_kept", "_part", "_rises", "_seen", "_track")

    def __init__(self, agenda: Agenda, part: Node, seen: SeenNode, *, rises: bool) -> None:
        super().__init__(part, seen)
        self._part = part
        self._seen = seen
        self._rises = rises
        self._track: Track[bool] = Track(agenda)
        self._kept = self._early = Marks()
        self.marks = self._marked(self._early, self._track.run, NOW, -inf)

    def refresh(self, now_s: float) -> bool:
        """Take the part's truth and whether it has begun; True where anything changed."""
        fed = self._part.truth is not self._track.run.value
        if fed:
            ended = self._track.feed(self._part.truth)
            if ended is not None:
                self._keep(ended, now_s)
        run, begun_s = self._track.run, self._seen.begun_s
        self.present_key_s = run.start_s
        self.present_s = self._moment_s(run, inf)
        if begun_s == inf:
            marks = self._marked(self._early, run, NOW, -inf)
        else:
            marks = self._marked(self._kept, run, NOW, begun_s)
        changed = fed or marks != self.marks
        self.marks = marks
        return changed

    def _keep(self, run: Run[bool], end_s: float) -> None:
        """Make a run history."""
        self._early = self._marked(self._early, run, (end_s, 0), -inf)
        self._kept = self._marked(self._kept, run, (end_s, 0), self._seen.begun_s)
        moment_s = self._moment_s(run, end_s)
        if moment_s != -inf:
            for log in self.logs:
                log.add(run.start_s, moment_s)

    def _moment_s(self, run: Run[bool], end_s: float) -> float:
        """The latest sure moment of a run that goes to `end_s`; minus infinity for none."""
        if not run.value:
            return -inf
        if not self._rises:
            return end_s
        return run.start_s if run.left is False else -inf

    def _marked(self, marks: Marks, run: Run[bool], end: Moment, begun_s: float) -> Marks:
        """The marks with those of a run that goes to `end`."""
        start: Moment = (run.start_s, 1)
        if run.value is None:
            return marks.with_doubt(start, end, begun_s)
        if run.value is False:
            return marks
        if not self._rises:
            return marks.with_sure(start, end)
        if run.left is None:
            return marks.with_doubt(start, start, begun_s)
        return marks.with_sure(start, start) if run.left is False else marks


class SweepMoments(Moments):
    """Both limits reached; the moment is the older of the two latest reaches."""

    __slots__ = ("_done_s", "_high", "_low", "_track")

    def __init__(self, agenda: Agenda, low: Moments, high: Moments) -> None:
        super().__init__(low, high)
        self._low, self._high = low, high
        self._track: Track[Moment] = Track(agenda)
        self._done_s = inf

    def refresh(self, now_s: float) -> bool:
        """Put the two together; True where anything changed."""
        low, high = self._low.marks, self._high.marks
        last, may_last = min(low.sure_last, high.sure_last), min(low.may_last, high.may_last)
        may_first = min(low.may_first, high.may_first) if may_last != NO_LAST else NO_FIRST
        first = self._first(now_s, last, min(may_last, (now_s, 1)))
        marks = Marks(first, last, may_first, may_last, max(low.doubt_s, high.doubt_s))
        changed = marks != self.marks
        self.marks = marks
        self._follow(last)
        return changed

    def _first(self, now_s: float, last: Moment, moment: Moment) -> Moment:
        """The moment of the first full sweep, fixed when it is complete."""
        if last == NO_LAST:
            self._done_s = inf
            return NO_FIRST
        if now_s <= self._done_s:
            self._done_s = now_s
            return moment
        return self.marks.sure_first

    def _follow(self, last: Moment) -> None:
        """Give the logs each sweep that a later one has followed."""
        if last == (self._track.run.value or NO_LAST):
            return
        ended = self._track.feed(None if last == NO_LAST else last)
        if ended is not None and ended.value is not None:
            for log in self.logs:
                log.add(ended.start_s, ended.value[0])
        self.present_key_s = self._track.run.start_s
        self.present_s = last[0]


def ordered(first: Marks, second: Marks) -> Truth:
    """First before second: first has happened, and not only after the latest second.

    True where even the fewest and least happy possible moments give it, False where not even the best do.
    """
    if not first.possible or (second.sure and first.may_first > second.may_last):
        return False
    latest = second.sure_last if second.sure else second.may_first
    if first.sure and (not second.possible or first.sure_first <= latest):
        return True
    return None


def followed(first: Marks, second: Marks) -> Truth:
    """First after second: both have happened, and the latest first is later than the latest second."""
    earliest = second.sure_last if second.sure else second.may_first
    if not (first.possible and second.possible and first.may_last > earliest):
        return False
    return True if first.sure and second.sure and first.sure_last > second.may_last else None
