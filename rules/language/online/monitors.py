"""Monitors: evaluate only the conditions that a changed signal or a due timer affects.

Takes: checked conditions, the state's fresh values, changed samples and calls.  Gives: truths, the ids
whose truth changed, and reasons.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import chain, repeat
from math import inf
from typing import Any, Protocol

from rules.language.checked_tree import Condition, Event, Term
from rules.language.explain import LABELS, SignalNames, explain
from rules.language.gaps import GapLog
from rules.language.online.call_availability import CallAvailability
from rules.language.online.conditions import TimedHistoricallyNode
from rules.language.online.graph import MonitorGraph
from rules.language.online.unseen_past import UnseenPast
from rules.language.traversal import walk
from rules.language.truth import Reason, Truth
from rules.signals.model import LONGEST_BRIDGED_GAP_S, Sample, Signal, Value
from rules.signals.number_format import format_clock

STATIC_TEXT = "a single state does not show it"
"""Why a static state says nothing about events."""


class SampleSource(Protocol):
    """Source of present samples: the part of the signal state that monitors read."""

    @property
    def values(self) -> Mapping[str, Value]:
        """Fresh values of signals by name, now and later."""

    def sample(self, name: str) -> Sample:
        """Give the signal's latest sample, of any quality."""


class Monitors:
    """Evaluates conditions by id.

    `steady` is for a static state: the values of the first step count as having lasted since before the start.
    `calls` decides whose calls are entered: of the others it is unknown that one was not made.  `names` names the signals in reasons; `lossy` are the signals whose data
    a gap loses.  `as_seen` are the ids of conditions that never count what may have happened before the monitors began.
    """

    def __init__(
        self,
        conditions: Mapping[str, Condition],
        state: SampleSource,
        *,
        steady: bool = False,
        calls: CallAvailability | None = None,
        names: SignalNames = LABELS,
        lossy: Collection[str] = (),
        as_seen: Collection[str] = (),
    ) -> None:
        self._conditions = dict(conditions)
        self._state = state
        self._steady = steady
        self._calls = calls or CallAvailability({}, entered=True)
        self._known_calls: set[str] = set()
        self._names = names
        self._lossy = frozenset(lossy)
        self._as_seen = frozenset(as_seen)
        self._external_truths: dict[str, Truth] = {}
        self._previous_truths: dict[str, Truth] = dict.fromkeys(self._conditions)
        self._reset()

    def _reset(self) -> None:
        self._unseen_past = UnseenPast(self._lossy)
        self._graph = self._make_graph()
        self._scheduler = self._graph.scheduler
        self._started = False
        self._gaps = GapLog(self._lossy)
        self._in_gap = False
        self._known_calls.clear()
        self._update_known_calls(every=True)
        for item in self._external_truths:
            self._apply_external(item)

    def _make_graph(self) -> MonitorGraph:
        """Build the nodes of the conditions, with every truth unknown."""
        return MonitorGraph(self._conditions, self._state.values, self._unseen_past, self._as_seen)

    def restart(self) -> None:
        """Start again, as after a jump of the simulator's clock; truths set by `set_item_truth` stay."""
        self._previous_truths = {name: node.truth for name, node in self._graph.roots.items()}
        self._reset()

    def set_item_truth(self, item: str, truth: Truth) -> None:
        """Set the truth of `ITEM is met` from the next step on, instead of its own condition."""
        self._external_truths[item] = truth
        self._apply_external(item)

    def clear_item_truth(self, item: str) -> None:
        """Let `ITEM is met` follow the item's own condition again, from the next step on."""
        del self._external_truths[item]
        node = self._graph.external_nodes.get(item)
        if node is not None:
            node.clear_external()
            self._scheduler.queue(node)

    def _apply_external(self, item: str) -> None:
        node = self._graph.external_nodes.get(item)
        if node is not None:
            node.set_external(self._external_truths[item])
            self._scheduler.queue(node)

    def clear_calls(self, calls: Iterable[str]) -> set[str]:
        """Remove these calls, from the present on: the flight has returned to a phase before them.

        Returns:
            The ids whose truth changed.
        """
        for name in calls:
            for event in self._graph.call_nodes.get(name, ()):
                event.forget_entries()
                self._scheduler.queue(event)
        self._scheduler.propagate()
        return self._drain_changes()

    def undo_call(self, call: str) -> set[str]:
        """Remove the latest entry of a call; gives the ids whose truth changed."""
        for event in self._graph.call_nodes.get(call, ()):
            event.undo_call()
            self._scheduler.queue(event)
        self._calls.remove(call)
        self._update_known_calls()
        self._scheduler.propagate()
        return self._drain_changes()

    def is_call_known(self, call: str) -> bool:
        """True where a call that was not entered was not made."""
        return self._calls.is_known(call)

    def truth(self, name: str) -> Truth:
        """Give the present truth of a condition."""
        return self._graph.roots[name].truth

    def explain(self, name: str) -> Reason:
        """Explain the condition's present truth."""
        return explain(self._conditions[name], self, self._names)

    def set_unseen_past(self, until_s: float | None, *, calls: bool = True) -> set[str]:
        """Set the time until which the flight was not watched, so that any event may have happened in it.

        Args:
            until_s: Its end; None where the flight was watched from its beginning.
            calls: True where calls of that time are not known either.

        Returns:
            The ids whose truth changed.
        """
        past = self._unseen_past
        past.until_s = -inf if until_s is None else until_s
        past.calls_until_s = past.until_s if calls else -inf
        self._graph.queue_past_nodes()
        self._scheduler.propagate()
        return self._drain_changes()

    def lose_data(self, start_s: float, end_s: float) -> None:
        """Make the lossy signals unknown from the start of a gap on; the next `advance` restores them.

        Args:
            start_s: Start of the gap; earlier than the present counts as the present.
            end_s: Its end, the time of the next step.
        """
        scheduler = self._scheduler
        start_s = max(start_s, scheduler.now_s)
        if not self._started or start_s >= end_s:
            return
        scheduler.run_until(start_s)
        scheduler.bridged_gap_s = (start_s, end_s) if end_s - start_s <= LONGEST_BRIDGED_GAP_S else (inf, inf)
        self._gaps.add(start_s, end_s)
        self._in_gap = True
        self._graph.lose_signals(self._lossy)
        scheduler.propagate()

    def _end_gap(self) -> None:
        """Give the lossy signals their present values again, after a gap."""
        if self._in_gap:
            self._in_gap = False
            self._graph.restore_signals(self._lossy)

    def advance(
        self, sim_s: float, samples: Sequence[Sample], calls: Sequence[str] = (), speakers: Sequence[str] = ()
    ) -> set[str]:
        """Go to a time at which samples changed (the state has them already) and calls were made.

        Args:
            sim_s: The simulator's clock in seconds; earlier than the present counts as the present.
            samples: The samples whose value or quality changed at that time.
            calls: Names of calls made at that time.
            speakers: Who made each of them, '' where it is not known; none for those at the end.

        Returns:
            The ids whose truth changed.
        """
        if not self._started:
            return self._first_advance(sim_s, calls, speakers)
        scheduler = self._scheduler
        scheduler.run_until(max(sim_s, scheduler.now_s))
        self._apply_samples(samples)
        if self._in_gap:
            self._end_gap()
        if calls:
            self._apply_calls(calls, speakers)
        scheduler.propagate()
        return self._drain_changes() if scheduler.previous_truths else set()

    def _first_advance(self, sim_s: float, calls: Sequence[str], speakers: Sequence[str]) -> set[str]:
        """Evaluate everything once."""
        scheduler = self._scheduler
        scheduler.run_until(sim_s)
        scheduler.origin_s = sim_s if self._steady else scheduler.origin_s
        self._started = True
        self._apply_calls(calls, speakers)
        for node in self._graph.all_nodes:
            scheduler.queue(node)
        scheduler.propagate()
        scheduler.previous_truths.clear()
        return {name for name, truth in self._previous_truths.items() if self.truth(name) is not truth}

    def _apply_samples(self, samples: Sequence[Sample]) -> None:
        """Evaluate the comparisons that the samples can change."""
        scheduler, get, readers_of = self._scheduler, self._state.values.get, self._graph.readers.get
        for sample in samples:
            readers = readers_of(sample[0])
            if readers is None:
                continue
            if readers.sides:
                value: Any = get(sample[0])
                if value is None or not readers.low < value < readers.high:
                    readers.update_numbers(value, get, scheduler)
            elif readers.words:
                readers.update_words(scheduler)
            for node in readers.observers:
                scheduler.queue(node)

    def _update_known_calls(self, *, every: bool = False) -> None:
        """Let each call be known, or not, by what has been entered; `every` where all nodes are new."""
        known_calls = {call for call in self._graph.call_nodes if self._calls.is_known(call)}
        for call in sorted(self._graph.call_nodes if every else known_calls ^ self._known_calls):
            for event in self._graph.call_nodes[call]:
                event.set_known(known=call in known_calls)
                self._scheduler.queue(event)
        self._known_calls = known_calls

    def _apply_calls(self, calls: Sequence[str], speakers: Sequence[str]) -> None:
        if not calls:
            return
        self._calls.add(calls)
        self._update_known_calls()
        for name, speaker in zip(calls, chain(speakers, repeat("")), strict=False):
            for event in self._graph.call_nodes.get(name, ()):
                event.record_call(self._scheduler.now_s, speaker)
                self._scheduler.queue(event)

    def _drain_changes(self) -> set[str]:
        """Give the ids whose truth changed since the step began."""
        before = self._scheduler.previous_truths
        names = {name for node, old in before.items() if node.truth is not old for name in node.condition_ids}
        before.clear()
        return names

    # -- the view of the explanation -------------------------------------------------------------

    def truth_as_seen(self, condition: Condition) -> Truth:
        """Give the present truth of any part of a condition that counts only what was seen."""
        node = self._graph.as_seen_nodes.get(condition)
        return self.truth_of(condition) if node is None else node.truth

    def truth_of(self, condition: Condition) -> Truth:
        """Give the present truth of any sub-condition."""
        return self._graph.truth_of(condition)

    def value_of(self, term: Term) -> float | None:
        """Give the present value of a term, None where unknown."""
        return self._graph.value_of(term)

    def happened(self, event: Event) -> Truth:
        """Check for an event in the past."""
        bounds = self._graph.event_node(event).bounds.likely
        return True if bounds.has_happened else (None if bounds.may_have_happened else False)

    def condition_of(self, item: str) -> Condition | None:
        """Give the condition of an item, None where its truth is set from outside."""
        return None if item in self._external_truths else self._conditions.get(item)

    def sample(self, name: str) -> Sample:
        """Give the signal's latest sample."""
        return self._state.sample(name)

    def unwatched(self, condition: Condition) -> str:
        """Say why the past of a condition's events is not known; '' where they were watched from the beginning."""
        events = [node for node in walk(condition) if isinstance(node, Event)]
        if all(self._unseen_past.end_s(self._graph.event_node(event)) == -inf for event in events):
            return ""
        return (
            STATIC_TEXT if self._steady else f"watched only since {format_clock(self._unseen_past.until_s)}"
        )

    def missing_s(self, signals: Iterable[Signal], span_s: float = inf) -> float:
        """Length of all gaps in the last `span_s` that lose data of these signals, in seconds."""
        return self._gaps.missing_s(signals, self._scheduler.now_s - span_s)

    def true_for_s(self, condition: Condition) -> float:
        """Time for which a condition under `for` has been true; 0 where it is not."""
        node = self._graph.nodes[condition]
        if not isinstance(node, TimedHistoricallyNode) or not node.track.run.value:
            return 0.0
        return self._scheduler.now_s - node.track.run.start_s
