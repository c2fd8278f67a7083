"""Monitors over columns: from one step at which a comparison changes, or a timer is due, to the next.

Comparisons, windows and sums come from columns.  And, or, `for` and events depend on calls and on verdicts of the
judge, so the online nodes evaluate them, but only at the moments at which something changes.

Takes: checked conditions, a segment.  Gives: `ColumnMonitors` and the `ColumnCursor` with the present step.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from math import inf
from typing import TypeAlias

import numpy as np

from rules.language.batch.graph import ColumnGraph
from rules.language.batch.step_series import UNKNOWN
from rules.language.batch.terms import TermEvaluator
from rules.language.checked_tree import Condition, Term
from rules.language.explain import LABELS, SignalNames
from rules.language.online.call_availability import CallAvailability
from rules.language.online.conditions import PredicateNode
from rules.language.online.monitors import Monitors, SampleSource
from rules.language.truth import Truth
from rules.signals.columns import ColumnSegment
from rules.signals.model import Sample

TruthChange: TypeAlias = tuple[int, float, PredicateNode, Truth]
"""Change of a comparison's truth: key and time of the point, its node, the new truth."""

_TRUTHS: Mapping[int, Truth] = {1: True, 0: False, UNKNOWN: None}


@dataclass(slots=True)
class ColumnCursor:
    """Present segment, and the present step in it."""

    segment: ColumnSegment
    step: int = 0


@dataclass(slots=True)
class _SegmentPlan:
    """Changes in a segment, in order: those of comparisons, and the steps at which nodes check signals themselves.

    `steps` are the steps with any of these.
    """

    changes: list[TruthChange] = field(default_factory=list)
    signal_checks: dict[int, list[str]] = field(default_factory=dict)
    steps: list[int] = field(default_factory=list)
    next_change: int = 0


class ColumnMonitors(Monitors):
    """Monitors that set comparisons from columns; call `load_segment` before the first step of a segment."""

    def __init__(
        self,
        conditions: Mapping[str, Condition],
        state: SampleSource,
        cursor: ColumnCursor,
        *,
        calls: CallAvailability | None = None,
        names: SignalNames = LABELS,
        lossy: Collection[str] = (),
        as_seen: Collection[str] = (),
    ) -> None:
        self._cursor = cursor
        self._plan = _SegmentPlan()
        self._step = -1
        self._changed_ids: set[str] = set()
        super().__init__(conditions, state, calls=calls, names=names, lossy=lossy, as_seen=as_seen)

    def _make_graph(self) -> ColumnGraph:
        self._column_graph = ColumnGraph(
            self._conditions, self._state.values, self._unseen_past, self._as_seen
        )
        return self._column_graph

    def load_segment(self) -> None:
        """Compute the changes of all comparisons in the cursor's segment."""
        segment = self._cursor.segment
        self._evaluator = TermEvaluator(segment, self._lossy)
        self._step, self._changed_ids = -1, set()
        changes = self._all_changes()
        checks = self._all_signal_checks()
        steps = sorted({change[0] >> 1 for change in changes} | checks.keys() | segment.gaps.keys())
        self._plan = _SegmentPlan(changes, checks, steps)

    def _all_changes(self) -> list[TruthChange]:
        """Compute the changes of every comparison, in the order of their points."""
        keys, times, owners, truths = [], [], [], []
        nodes = list(self._column_graph.column_predicates.items())
        sim_s = self._cursor.segment.sim_s
        for number, (predicate, _) in enumerate(nodes):
            changes = self._evaluator.truth_changes(predicate)
            keys.append(changes.keys)
            times.append(sim_s[changes.keys >> 1] if changes.time_s is None else changes.time_s)
            owners.append(np.full(len(changes.keys), number))
            truths.append(changes.truths)
        if not nodes:
            return []
        key, time_s = np.concatenate(keys), np.concatenate(times)
        order = np.lexsort((time_s, key))
        parts = (key, time_s, np.concatenate(owners), np.concatenate(truths))
        listed = zip(*(part[order].tolist() for part in parts), strict=True)
        return [(key, at_s, nodes[owner][1], _TRUTHS[truth]) for key, at_s, owner, truth in listed]

    def _all_signal_checks(self) -> dict[int, list[str]]:
        """Compute the signals that nodes check at each step: freshness changes, and every change of a signal that a count reads."""
        checks: dict[int, list[str]] = {}
        direct = set(self._column_graph.direct_signals)
        for name, readers in self._column_graph.readers.items():
            column = self._cursor.segment.columns.get(name)
            if column is not None and readers.observers:
                for step in (column.steps if name in direct else column.freshness_changes()).tolist():
                    checks.setdefault(step, []).append(name)
        return checks

    @property
    def steps(self) -> Sequence[int]:
        """Steps of the segment at which a comparison changes, or just before which it does."""
        return self._plan.steps

    @property
    def next_timer_s(self) -> float:
        """Time before which no timer is due."""
        return self._scheduler.next_timer_s

    @property
    def pending(self) -> bool:
        """True where an item's truth was set that counts from the next step on."""
        return self._scheduler.pending

    def go_to(self, step: int, calls: Sequence[str] = (), speakers: Sequence[str] = ()) -> set[str]:
        """Go to a step.

        Args:
            step: Not before the present one, nor beyond the next of `steps` or the next at which a timer is due.
            calls: The calls entered at it.
            speakers: As for `advance`.

        Returns:
            The ids whose truth changed.
        """
        # From step 3 to step 4 with a window that changes in between, and a timer (`for 5 s`) that is due at 12.6 s:
        #
        #     step        3                                 4
        #     time        12.0     12.4     12.6     12.7   13.0
        #     key         7        8                 8      9
        #     change               A                 B      C
        #     order       A at 12.4, the timer at 12.6, B at 12.7, timers up to 13.0, C
        #
        # So every node sees changes and timers in the order of their times, as it would at each frame.
        sim_s = float(self._cursor.segment.sim_s[step])
        if self._step < 0:
            return self._first_step(step, sim_s, calls, speakers)
        if step > self._step:
            self._step = step
            gap_start_s = self._cursor.segment.gaps.get(step)
            if gap_start_s is not None:
                self._apply_points_before(2 * step, gap_start_s)
                self.lose_data(gap_start_s, sim_s)
            self._apply_points_before(2 * step)
            self._scheduler.run_until(sim_s)
            self._apply_changes(2 * step + 1)
            self._queue_observers(step)
            self._end_gap()
        if calls:
            self._apply_calls(calls, speakers)
        self._scheduler.propagate()
        self._changed_ids |= self._drain_changes()
        return self._changed_ids

    def advance(
        self,
        sim_s: float,  # noqa: ARG002 - the cursor has the time and the samples
        samples: Sequence[Sample],  # noqa: ARG002
        calls: Sequence[str] = (),
        speakers: Sequence[str] = (),
    ) -> set[str]:
        """Go to the cursor's step; gives also the changes found by `go_to` on the way."""
        self.go_to(self._cursor.step, calls, speakers)
        found, self._changed_ids = self._changed_ids, set()
        return found

    def value_of(self, term: Term) -> float | None:
        """Give the value of a term at the cursor's step."""
        return self._column_graph.value_at(term, self._evaluator, self._cursor.step)

    def _first_step(self, step: int, sim_s: float, calls: Sequence[str], speakers: Sequence[str]) -> set[str]:
        """Evaluate everything once."""
        self._step = step
        scheduler, graph = self._scheduler, self._column_graph
        scheduler.run_until(sim_s)
        self._started = True
        self._apply_calls(calls, speakers)
        from_columns = set(map(id, graph.column_predicates.values()))
        for node in graph.all_nodes:
            if id(node) not in from_columns:
                scheduler.queue(node)
        self._apply_changes(2 * step + 1)
        scheduler.propagate()
        scheduler.previous_truths.clear()
        self._changed_ids = {
            name for name, truth in self._previous_truths.items() if self.truth(name) is not truth
        }
        return self._changed_ids

    def _apply_points_before(self, key: int, until_s: float = inf) -> None:
        """Apply the changes before a step, each at its time, up to the start of a gap."""
        changes, plan = self._plan.changes, self._plan
        while plan.next_change < len(changes) and changes[plan.next_change][0] <= key:
            at_s = changes[plan.next_change][1]
            if at_s > until_s:
                return
            self._scheduler.run_until(at_s)
            while (
                plan.next_change < len(changes)
                and changes[plan.next_change][0] <= key
                and changes[plan.next_change][1] == at_s
            ):
                self._set_predicate(changes[plan.next_change])
                plan.next_change += 1
            self._scheduler.propagate()

    def _apply_changes(self, key: int) -> None:
        """Apply the changes at a step."""
        changes, plan = self._plan.changes, self._plan
        while plan.next_change < len(changes) and changes[plan.next_change][0] <= key:
            self._set_predicate(changes[plan.next_change])
            plan.next_change += 1

    def _set_predicate(self, change: TruthChange) -> None:
        node, truth = change[2], change[3]
        if node.truth is not truth:
            old, node.truth = node.truth, truth
            self._scheduler.notify_parents(node, old)

    def _queue_observers(self, step: int) -> None:
        """Queue the nodes whose signals change or change freshness at a step."""
        for name in self._plan.signal_checks.get(step, ()):
            for node in self._column_graph.readers[name].observers:
                self._scheduler.queue(node)
