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

from rules.judge.condition_ids import trace_begins_id, trace_ends_id, trace_mark_id
from rules.judge.context import JudgeContext
from rules.judge.events import (
    Finding,
    FindingChanged,
    FindingOpened,
    JudgeEvent,
    TraceColumn,
    TraceEnd,
    TraceMarkTime,
    TraceRecorded,
)
from rules.packs.model import TraceLimit, TraceRule
from rules.signals.model import Value

# Sums of simulated time are off by less than this.
_TIME_TOLERANCE_S = 1e-6


@dataclass(frozen=True, slots=True)
class TraceSnapshot:
    """A strip that runs, as it stands: one value in each column for each of `times_s`."""

    id: str
    title: str
    began_s: float
    times_s: tuple[float, ...]
    columns: tuple[TraceColumn, ...]
    marks: tuple[TraceMarkTime, ...]
    limits: tuple[TraceLimit, ...]


@dataclass(slots=True)
class _ActiveTrace:
    """A strip that runs.  `closed` are the findings that were closed, so that one which opens again counts."""

    rule: TraceRule
    began_s: float
    due_s: float
    closed: set[int]
    times_s: list[float] = field(default_factory=list)
    columns: list[list[Value | None]] = field(default_factory=list)
    marks: dict[int, float] = field(default_factory=dict)
    findings: dict[int, None] = field(default_factory=dict)


class TraceRecorder:
    """Every strip of the pack, in the pack's order."""

    def __init__(self, context: JudgeContext, findings: Sequence[Finding]) -> None:
        """None runs before the first frame.

        Args:
            context: The common ground.
            findings: The record, as it grows.
        """
        self._context = context
        self._findings = findings
        self._rules = context.pack.traces
        self._condition_ids = frozenset(name for strip in self._rules for name in _condition_ids(strip))
        self._active: dict[str, _ActiveTrace] = {}
        self._begun: set[str] = set()

    @property
    def active(self) -> bool:
        """Whether any runs."""
        return bool(self._active)

    @property
    def due_s(self) -> float:
        """When the next sample or end is due by the clock alone; infinite where none runs."""
        running = self._active.values()
        dues_s = (min(one.due_s, one.began_s + one.rule.max_duration_s) for one in running)
        return min(dues_s, default=math.inf) - 2 * _TIME_TOLERANCE_S

    @property
    def snapshots(self) -> tuple[TraceSnapshot, ...]:
        """Those that run, in the pack's order; they do not change when the core goes on."""
        kept = (self._active[strip.id] for strip in self._rules if strip.id in self._active)
        return tuple(self._snapshot(one) for one in kept)

    def step(self, changed: Collection[str]) -> None:
        """Take in a step: marks, samples, ends and beginnings.

        Args:
            changed: The ids whose truth changed in it.
        """
        told = not self._condition_ids.isdisjoint(changed)
        for one in tuple(self._active.values()):
            self._continue(one, conditions_changed=told)
        if told:
            for strip in self._rules:
                self._begin(strip)

    def end_all(self, last_s: float) -> None:
        """The clock jumped back: what runs is kept as it was.

        Args:
            last_s: The simulator's clock at the last step before the jump, in seconds: there it ends.
        """
        for trace in tuple(self._active.values()):
            self._end(trace, TraceEnd.RESET, last_s)
        self._begun.clear()

    def _begin(self, rule: TraceRule) -> None:
        """Let a strip run whose beginning has come."""
        truth = self._context.monitors.truth
        if truth(trace_begins_id(rule.id)) is not True:
            self._begun.discard(rule.id)
        elif rule.id not in self._active and rule.id not in self._begun and not truth(trace_ends_id(rule.id)):
            self._begun.add(rule.id)
            closed = {finding.number for finding in self._findings if finding.closed_s is not None}
            now_s = self._context.sim_s
            trace = _ActiveTrace(rule, now_s, now_s, closed, columns=[[] for _ in rule.signals])
            self._active[rule.id] = trace
            self._note_findings(trace)
            self._note_marks(trace)
            self._sample(trace)

    def _continue(self, trace: _ActiveTrace, *, conditions_changed: bool) -> None:
        """A strip goes on, or comes to its end."""
        self._note_findings(trace)
        if conditions_changed:
            self._note_marks(trace)
        now_s = self._context.sim_s
        if now_s >= trace.due_s - _TIME_TOLERANCE_S:
            self._sample(trace)
        if conditions_changed and self._context.monitors.truth(trace_ends_id(trace.rule.id)) is True:
            self._end(trace, TraceEnd.ENDED, now_s)
        elif now_s - trace.began_s >= trace.rule.max_duration_s - _TIME_TOLERANCE_S:
            self._end(trace, TraceEnd.MAX_DURATION, now_s)

    def _end(self, trace: _ActiveTrace, end: TraceEnd, ended_s: float) -> None:
        """Keep a strip that is over."""
        if end is not TraceEnd.RESET and trace.times_s[-1] < ended_s:
            self._sample(trace)
        del self._active[trace.rule.id]
        picture = self._snapshot(trace)
        self._context.emit(
            TraceRecorded(
                self._context.sim_s,
                picture.id,
                picture.title,
                picture.began_s,
                ended_s,
                end,
                picture.times_s,
                picture.columns,
                picture.marks,
                picture.limits,
                tuple(sorted(trace.findings)),
            )
        )

    def _sample(self, trace: _ActiveTrace) -> None:
        """Keep what stands now; a signal that is not fresh has no value."""
        read: Callable[[str], Value | None] = self._context.state.values.get
        now_s = self._context.sim_s
        trace.times_s.append(now_s)
        for name, column in zip(trace.rule.signals, trace.columns, strict=True):
            column.append(read(name))
        taken = math.floor((now_s - trace.began_s + _TIME_TOLERANCE_S) / trace.rule.interval_s)
        trace.due_s = trace.began_s + (taken + 1) * trace.rule.interval_s

    def _note_marks(self, trace: _ActiveTrace) -> None:
        """Note each mark that is so for the first time."""
        truth = self._context.monitors.truth
        for number in range(len(trace.rule.marks)):
            if number not in trace.marks and truth(trace_mark_id(trace.rule.id, number)) is True:
                trace.marks[number] = self._context.sim_s

    def _note_findings(self, trace: _ActiveTrace) -> None:
        """Note the findings of this step that opened, or opened again, and that the strip is about."""
        for finding in _findings_in(self._context.pending_events):
            if finding.closed_s is not None:
                trace.closed.add(finding.number)
            elif finding.item in trace.rule.evidence_for and (
                finding.sim_s >= trace.began_s or finding.number in trace.closed
            ):
                trace.findings[finding.number] = None

    def _snapshot(self, trace: _ActiveTrace) -> TraceSnapshot:
        """A strip as it stands."""
        strip, signals = trace.rule, self._context.pack.signals
        columns = (
            TraceColumn(name, signals[name].label, signals[name].unit, tuple(column))
            for name, column in zip(strip.signals, trace.columns, strict=True)
        )
        marks = sorted(trace.marks.items(), key=lambda mark: (mark[1], mark[0]))
        return TraceSnapshot(
            strip.id,
            strip.title,
            trace.began_s,
            tuple(trace.times_s),
            tuple(columns),
            tuple(TraceMarkTime(sim_s, strip.marks[number].label) for number, sim_s in marks),
            strip.limits,
        )


def _findings_in(events: Iterable[JudgeEvent]) -> Iterable[Finding]:
    """The findings that these entries are about."""
    return (entry.finding for entry in events if isinstance(entry, FindingOpened | FindingChanged))


def _condition_ids(rule: TraceRule) -> tuple[str, ...]:
    """The ids under which a strip's conditions are monitored."""
    marks = (trace_mark_id(rule.id, number) for number in range(len(rule.marks)))
    return (trace_begins_id(rule.id), trace_ends_id(rule.id), *marks)
