"""Traces: time histories of signals over a part of the flight, for evidence and for live drawings.

A trace begins when its `begins` is true and its `ends` is not; it begins again only after `begins` was false.  It takes
a sample at once, then one in each interval at the first step that is due, and a last one at its end.  Its maximum
duration bounds the number of samples.  Without an active trace, a step costs one look at the ids that changed.

Takes: the ids of conditions whose truth changed.  Gives: `TraceRecorded` at the end of each trace, and snapshots of the
active ones.
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
from rules.judge.snapshot import TraceSnapshot
from rules.packs.model import TraceRule
from rules.signals.model import Value

# Sums of simulator times are less than this apart.
_TIME_TOLERANCE_S = 1e-6


@dataclass(slots=True)
class _ActiveTrace:
    """An active trace; `closed` holds the findings that closed, so that one which reopens counts.

    `snapshot` is the latest one, None once a sample or mark was added.
    """

    rule: TraceRule
    began_s: float
    due_s: float
    closed: set[int]
    times_s: list[float] = field(default_factory=list)
    columns: list[list[Value | None]] = field(default_factory=list)
    marks: dict[int, float] = field(default_factory=dict)
    findings: dict[int, None] = field(default_factory=dict)
    snapshot: TraceSnapshot | None = None


class TraceRecorder:
    """All traces of the pack, in the pack's order."""

    def __init__(self, context: JudgeContext, findings: Sequence[Finding]) -> None:
        """Start with none active.

        Args:
            context: State of the judge.
            findings: Findings of the session; the list grows.
        """
        self._context = context
        self._findings = findings
        self._rules = context.pack.traces
        self._condition_ids = frozenset(name for rule in self._rules for name in _condition_ids(rule))
        self._active: dict[str, _ActiveTrace] = {}
        self._begun: set[str] = set()

    @property
    def active(self) -> bool:
        """True if a trace is active."""
        return bool(self._active)

    @property
    def due_s(self) -> float:
        """Time of the next sample or end that the clock alone makes due; infinite without active traces."""
        running = self._active.values()
        dues_s = (min(trace.due_s, trace.began_s + trace.rule.max_duration_s) for trace in running)
        return min(dues_s, default=math.inf) - 2 * _TIME_TOLERANCE_S

    @property
    def snapshots(self) -> tuple[TraceSnapshot, ...]:
        """Snapshots of the active traces, in the pack's order."""
        active = (self._active[rule.id] for rule in self._rules if rule.id in self._active)
        return tuple(self._snapshot(trace) for trace in active)

    def step(self, changed: Collection[str]) -> None:
        """Update marks, samples, ends and beginnings.

        Args:
            changed: Ids of the conditions whose truth changed in this step.
        """
        conditions_changed = not self._condition_ids.isdisjoint(changed)
        for trace in tuple(self._active.values()):
            self._continue(trace, conditions_changed=conditions_changed)
        if conditions_changed:
            for rule in self._rules:
                self._begin(rule)

    def end_all(self, last_s: float) -> None:
        """End all active traces because the clock jumped back.

        Args:
            last_s: Simulator time of the last step before the jump, in seconds.
        """
        for trace in tuple(self._active.values()):
            self._end(trace, TraceEnd.RESET, last_s)
        self._begun.clear()

    def _begin(self, rule: TraceRule) -> None:
        """Begin a trace whose condition is true."""
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
        """Update an active trace, and end it where it is due."""
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
        """End a trace and emit it."""
        if end is not TraceEnd.RESET and trace.times_s[-1] < ended_s:
            self._sample(trace)
        del self._active[trace.rule.id]
        snapshot = self._snapshot(trace)
        self._context.emit(
            TraceRecorded(
                self._context.sim_s,
                snapshot.id,
                snapshot.title,
                snapshot.began_s,
                ended_s,
                end,
                snapshot.times_s,
                snapshot.columns,
                snapshot.marks,
                snapshot.limits,
                tuple(sorted(trace.findings)),
            )
        )

    def _sample(self, trace: _ActiveTrace) -> None:
        """Take a sample; a signal that is not fresh has no value."""
        trace.snapshot = None
        read: Callable[[str], Value | None] = self._context.state.values.get
        now_s = self._context.sim_s
        trace.times_s.append(now_s)
        for name, column in zip(trace.rule.signals, trace.columns, strict=True):
            column.append(read(name))
        count = math.floor((now_s - trace.began_s + _TIME_TOLERANCE_S) / trace.rule.interval_s)
        trace.due_s = trace.began_s + (count + 1) * trace.rule.interval_s

    def _note_marks(self, trace: _ActiveTrace) -> None:
        """Record each mark that is true for the first time."""
        truth = self._context.monitors.truth
        for number in range(len(trace.rule.marks)):
            if number not in trace.marks and truth(trace_mark_id(trace.rule.id, number)) is True:
                trace.marks[number] = self._context.sim_s
                trace.snapshot = None

    def _note_findings(self, trace: _ActiveTrace) -> None:
        """Record the findings of this step that opened or reopened and for which the trace is evidence."""
        for finding in _findings_in(self._context.pending_events):
            if finding.closed_s is not None:
                trace.closed.add(finding.number)
            elif finding.item in trace.rule.evidence_for and (
                finding.sim_s >= trace.began_s or finding.number in trace.closed
            ):
                trace.findings[finding.number] = None

    def _snapshot(self, trace: _ActiveTrace) -> TraceSnapshot:
        """Snapshot of a trace, made again only after a further sample or mark."""
        if trace.snapshot is None:
            trace.snapshot = self._new_snapshot(trace)
        return trace.snapshot

    def _new_snapshot(self, trace: _ActiveTrace) -> TraceSnapshot:
        rule, signals = trace.rule, self._context.pack.signals
        columns = (
            TraceColumn(name, signals[name].label, signals[name].unit, tuple(column))
            for name, column in zip(rule.signals, trace.columns, strict=True)
        )
        marks = sorted(trace.marks.items(), key=lambda mark: (mark[1], mark[0]))
        return TraceSnapshot(
            rule.id,
            rule.title,
            trace.began_s,
            tuple(trace.times_s),
            tuple(columns),
            tuple(TraceMarkTime(sim_s, rule.marks[number].label) for number, sim_s in marks),
            rule.limits,
        )


def _findings_in(events: Iterable[JudgeEvent]) -> Iterable[Finding]:
    """Findings of these events."""
    return (entry.finding for entry in events if isinstance(entry, FindingOpened | FindingChanged))


def _condition_ids(rule: TraceRule) -> tuple[str, ...]:
    """Ids of the conditions of a trace."""
    marks = (trace_mark_id(rule.id, number) for number in range(len(rule.marks)))
    return (trace_begins_id(rule.id), trace_ends_id(rule.id), *marks)
