"""Strips: quantities kept over a stretch of flight, as evidence and for drawing while they run.

A strip begins when its `begins` is so and its `ends` is not, and not again before `begins` has not been so.  It keeps a
sample at once and then one in every interval, at the first step at or after it is due; and a last one at its end.  No
more is held than its longest time allows.  While none runs, a step costs one look at the ids that changed.

Takes: the ids whose truth changed.  Gives: `StripKept` at the end of each, and pictures of those that run.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, field

from rules.judge.entries import (
    Entry,
    Finding,
    FindingChanged,
    FindingOpened,
    StripColumn,
    StripEnd,
    StripKept,
    StripMoment,
)
from rules.judge.session import Session, begins_id, ends_id, mark_id
from rules.packs.model import Strip, StripLimit
from rules.signals.model import Value

# Sums of simulated time are off by less than this.
_SAME_S = 1e-6


@dataclass(frozen=True, slots=True)
class StripPicture:
    """A strip that runs, as it stands: one value in each column for each of `times_s`."""

    id: str
    title: str
    began_s: float
    times_s: tuple[float, ...]
    columns: tuple[StripColumn, ...]
    marks: tuple[StripMoment, ...]
    limits: tuple[StripLimit, ...]


@dataclass(slots=True)
class _Running:
    """A strip that runs.  `closed` are the findings that were closed, so that one which opens again counts."""

    strip: Strip
    began_s: float
    due_s: float
    closed: set[int]
    times_s: list[float] = field(default_factory=list)
    columns: list[list[Value | None]] = field(default_factory=list)
    marks: dict[int, float] = field(default_factory=dict)
    findings: dict[int, None] = field(default_factory=dict)


class Strips:
    """Every strip of the pack, in the pack's order."""

    def __init__(self, session: Session, findings: Sequence[Finding]) -> None:
        """None runs before the first frame.

        Args:
            session: The common ground.
            findings: The record, as it grows.
        """
        self._session = session
        self._record = findings
        self._strips = session.pack.strips
        self._ids = frozenset(name for strip in self._strips for name in _ids(strip))
        self._running: dict[str, _Running] = {}
        self._spent: set[str] = set()

    @property
    def live(self) -> bool:
        """Whether any runs."""
        return bool(self._running)

    @property
    def due_s(self) -> float:
        """When the next sample or end is due by the clock alone; infinite where none runs."""
        running = self._running.values()
        dues_s = (min(one.due_s, one.began_s + one.strip.longest_s) for one in running)
        return min(dues_s, default=math.inf) - 2 * _SAME_S

    @property
    def running(self) -> tuple[StripPicture, ...]:
        """Those that run, in the pack's order; they do not change when the core goes on."""
        kept = (self._running[strip.id] for strip in self._strips if strip.id in self._running)
        return tuple(self._picture(one) for one in kept)

    def step(self, changed: Collection[str]) -> None:
        """Take in a step: marks, samples, ends and beginnings.

        Args:
            changed: The ids whose truth changed in it.
        """
        told = not self._ids.isdisjoint(changed)
        for one in tuple(self._running.values()):
            self._go_on(one, told=told)
        if told:
            for strip in self._strips:
                self._begin(strip)

    def let_go(self, last_s: float) -> None:
        """The clock jumped back: what runs is kept as it was.

        Args:
            last_s: The simulator's clock at the last step before the jump, in seconds: there it ends.
        """
        for one in tuple(self._running.values()):
            self._end(one, StripEnd.RESET, last_s)
        self._spent.clear()

    def _begin(self, strip: Strip) -> None:
        """Let a strip run whose beginning has come."""
        truth = self._session.monitors.truth
        if truth(begins_id(strip.id)) is not True:
            self._spent.discard(strip.id)
        elif strip.id not in self._running and strip.id not in self._spent and not truth(ends_id(strip.id)):
            self._spent.add(strip.id)
            closed = {finding.number for finding in self._record if finding.closed_s is not None}
            now_s = self._session.sim_s
            one = _Running(strip, now_s, now_s, closed, columns=[[] for _ in strip.keep])
            self._running[strip.id] = one
            self._note_findings(one)
            self._note_marks(one)
            self._sample(one)

    def _go_on(self, one: _Running, *, told: bool) -> None:
        """A strip goes on, or comes to its end."""
        self._note_findings(one)
        if told:
            self._note_marks(one)
        now_s = self._session.sim_s
        if now_s >= one.due_s - _SAME_S:
            self._sample(one)
        if told and self._session.monitors.truth(ends_id(one.strip.id)) is True:
            self._end(one, StripEnd.ENDED, now_s)
        elif now_s - one.began_s >= one.strip.longest_s - _SAME_S:
            self._end(one, StripEnd.LONGEST, now_s)

    def _end(self, one: _Running, end: StripEnd, ended_s: float) -> None:
        """Keep a strip that is over."""
        if end is not StripEnd.RESET and one.times_s[-1] < ended_s:
            self._sample(one)
        del self._running[one.strip.id]
        picture = self._picture(one)
        self._session.say(
            StripKept(
                self._session.sim_s,
                picture.id,
                picture.title,
                picture.began_s,
                ended_s,
                end,
                picture.times_s,
                picture.columns,
                picture.marks,
                picture.limits,
                tuple(sorted(one.findings)),
            )
        )

    def _sample(self, one: _Running) -> None:
        """Keep what stands now; a signal that is not fresh has no value."""
        read: Callable[[str], Value | None] = self._session.state.values.get
        now_s = self._session.sim_s
        one.times_s.append(now_s)
        for name, column in zip(one.strip.keep, one.columns, strict=True):
            column.append(read(name))
        taken = math.floor((now_s - one.began_s + _SAME_S) / one.strip.every_s)
        one.due_s = one.began_s + (taken + 1) * one.strip.every_s

    def _note_marks(self, one: _Running) -> None:
        """Note each mark that is so for the first time."""
        truth = self._session.monitors.truth
        for number in range(len(one.strip.marks)):
            if number not in one.marks and truth(mark_id(one.strip.id, number)) is True:
                one.marks[number] = self._session.sim_s

    def _note_findings(self, one: _Running) -> None:
        """Note the findings of this step that opened, or opened again, and that the strip is about."""
        for finding in _told(self._session.out):
            if finding.closed_s is not None:
                one.closed.add(finding.number)
            elif finding.item in one.strip.about and (
                finding.sim_s >= one.began_s or finding.number in one.closed
            ):
                one.findings[finding.number] = None

    def _picture(self, one: _Running) -> StripPicture:
        """A strip as it stands."""
        strip, signals = one.strip, self._session.pack.signals
        columns = (
            StripColumn(name, signals[name].label, signals[name].unit, tuple(column))
            for name, column in zip(strip.keep, one.columns, strict=True)
        )
        marks = sorted(one.marks.items(), key=lambda mark: (mark[1], mark[0]))
        return StripPicture(
            strip.id,
            strip.title,
            one.began_s,
            tuple(one.times_s),
            tuple(columns),
            tuple(StripMoment(sim_s, strip.marks[number].label) for number, sim_s in marks),
            strip.limits,
        )


def _told(entries: Iterable[Entry]) -> Iterable[Finding]:
    """The findings that these entries are about."""
    return (entry.finding for entry in entries if isinstance(entry, FindingOpened | FindingChanged))


def _ids(strip: Strip) -> tuple[str, ...]:
    """The ids under which a strip's conditions are monitored."""
    marks = (mark_id(strip.id, number) for number in range(len(strip.marks)))
    return (begins_id(strip.id), ends_id(strip.id), *marks)
