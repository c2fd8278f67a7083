"""Stepper: runs the parts of a judge in one fixed order.

The order within a step, and of its events:

1. a reset of the monitors, or a gap in the data; then the calls that were entered, and waivers that begin or are undone
2. verdicts of items, in the pack's order: all that changed in one sample changed at the same time
3. findings that those close, and errors of order; then the watches
4. gates: cues, then entries; the findings of a gate, then its entry, then the new phase
5. holds, clear times and repeat intervals that are due, earliest first
6. notices, the most severe first; then the summary of a quiet period; then the reminders of gates
7. callouts, and flight times
8. traces that ended

Verdicts come before timers: a hold that ends in the step in which the item is corrected opens no finding.

Takes: changed samples, calls, ids of items to judge again.  Gives: events in the context; the parts, for snapshots.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from functools import partial
from math import inf
from typing import NamedTuple

from rules.judge.call_history import CallHistory, CallHistoryEntry, CallUndo, PreCallState, StepChanges
from rules.judge.callouts import Callouts
from rules.judge.condition_ids import monitored_conditions
from rules.judge.context import JudgeContext
from rules.judge.events import CallEntered, CallUndone, DataMissing, MonitorsReset
from rules.judge.figures import FigureEvaluator
from rules.judge.finding_sentences import current_sentence
from rules.judge.findings import FindingLog, RuleKind
from rules.judge.flight_times import FlightTimeTracker
from rules.judge.gate_requirements import GateRequirements
from rules.judge.gates import Gates
from rules.judge.items import Items, ItemState
from rules.judge.later_needs import LaterNeeds
from rules.judge.notices import NoticeScheduler
from rules.judge.order_rules import OrderRules
from rules.judge.signal_activity import SignalActivity
from rules.judge.timers import LOOK_AGAIN_S
from rules.judge.trace_recorder import TraceRecorder
from rules.judge.watch_start import WatchStart
from rules.judge.watches import Watches
from rules.language.online import Monitors
from rules.packs.model import Pack
from rules.signals.model import Sample
from rules.signals.state import SignalState

ActivityFactory = Callable[[Collection[str], Mapping[str, Collection[str]]], SignalActivity]
"""Makes the activity of single signals, from the signals whose moves matter and the readers of each signal."""


class Evaluation(NamedTuple):
    """State, figures and monitors of a pack: of each frame, or over the columns of a recording."""

    state: SignalState
    figures: FigureEvaluator
    monitors: Monitors
    make_activity: ActivityFactory = SignalActivity


class Stepper:
    """The parts of one judge, and the order in which they run.

    Attributes:
        context: what the parts share.
        started: False before the first frame.
    """

    def __init__(
        self, pack: Pack, evaluation: Evaluation, trip_signals: Collection[str], *, steady: bool = False
    ) -> None:
        """Connect the parts.

        Args:
            pack: The rules.
            evaluation: State, figures and monitors of this pack.
            trip_signals: Names of the values of the trip sheet.
            steady: True for a static state, which shows nothing of the past.
        """
        self.figures = evaluation.figures
        self.context = JudgeContext(pack, evaluation.state, evaluation.monitors)
        self.items = Items(self.context)
        derived = {*trip_signals, *(figure.signal.name for figure in pack.figures)}
        valued = {name for s in self.items.states.values() for name in s.value_signals if name not in derived}
        self._activity = evaluation.make_activity(valued, self.items.readers())
        self.notices = NoticeScheduler(self.context, partial(current_sentence, self.context, self.items))
        self.finding_log = FindingLog(self.context, self.notices)
        self.gate_requirements = GateRequirements(self.context, self.items, self._activity, self.finding_log)
        self.order_rules = OrderRules(self.context, self.items, self.gate_requirements, self.finding_log)
        self.watches = Watches(self.context, self.finding_log)
        self.gates = Gates(
            self.context, self.items, self.gate_requirements, self.finding_log, self.notices, self._activity
        )
        self._watch_start = WatchStart(self.context, self.gates, steady=steady)
        self._calls_sent = False
        self.later_needs = LaterNeeds(self.context, self.items, self.order_rules)
        self.traces = TraceRecorder(self.context, self.finding_log.findings)
        self._callouts = Callouts(self.context)
        self._flight_times = FlightTimeTracker(self.context)
        self._call_history = CallHistory(self.context)
        self._call_undo = CallUndo(
            self.context, self.items, self.watches, self.order_rules, self.gates, self.finding_log
        )
        self.started = False

    def restart(self, sim_s: float, epoch: int, *, calls_sent: bool) -> None:
        """Start with the first frame, or again after the simulator clock jumped back to `sim_s`.

        Args:
            sim_s: Time of the frame.
            epoch: Its epoch.
            calls_sent: True if it contains calls.
        """
        self._calls_sent = calls_sent
        context = self.context
        last_s = context.sim_s
        context.state.restart(epoch)
        context.sim_s = sim_s
        if self.started:
            context.monitors.restart()
            context.timers.clear()
            context.gap_end_s = -inf
            self.gates.reset()
            self.finding_log.abandon_open()
            self.notices.reset()
            self._activity.reset()
            self.items.reset()
            self.order_rules.reset()
            self.watches.reset()
            context.emit(MonitorsReset(sim_s, epoch))
            self.traces.end_all(last_s)
        self.items.start_at(sim_s)
        self.started = True

    def note_gap(self, from_s: float, records: int | None = None) -> list[str]:
        """Note that data are missing from a time until the present of the state, before the step there.

        An error that has to last for a hold must be seen for that long: its hold starts again.

        Args:
            from_s: The simulator's time from which on data are missing.
            records: How many records are missing; None where that is not known.

        Returns:
            Ids of the items that were unknown before it, whose reason it may be now.
        """
        context = self.context
        sim_s = context.state.sim_s
        context.emit(DataMissing(sim_s, from_s, records))
        context.gap_s, context.gap_end_s = sim_s - from_s, sim_s
        for key in context.timers.pending_after(from_s):
            hold_s = self._hold_s(*key)
            if hold_s is not None:
                context.timers.set(key, sim_s + hold_s)
        return [*self.items.renew_unknown(), *self.watches.renew_unknown()]

    def _hold_s(self, timer: str, _: str, item: str) -> float | None:
        """Time for which an error has to last before it opens a finding; None for a timer of another kind."""
        if timer == "watch":
            return self.watches.states[item].watch.hold_s if self.watches.is_violated(item) else None
        is_hold = timer.partition(" ")[0] in ("hold", "order")
        return self.items.states[item].item.hold_s if is_hold else None

    def step(
        self,
        samples: Sequence[Sample],
        calls: Sequence[CallEntered] = (),
        *,
        touched: Collection[str] = (),
        full: bool = False,
    ) -> None:
        """Run one step at the present time of the state.

        Args:
            samples: Samples that changed.
            calls: Calls that were entered.
            touched: Ids of items to judge again, because of a request.
            full: True to judge everything: at the first frame, and after a reset.
        """
        context = self.context
        context.sim_s = sim_s = context.state.sim_s
        names, speakers = [call.call for call in calls], [call.by for call in calls]
        changed = context.monitors.advance(sim_s, samples, names, speakers)
        self._call_history.start_step(calls)
        touched = self._activity.observe(samples) | set(touched)
        if full:
            self._watch_start.start(calls_sent=self._calls_sent)
        earlier = full and self._calls_sent and not context.watched_from_start
        for call in calls:
            context.emit(CallEntered(sim_s, call.call, call.by, earlier=earlier and not call.by))
        if full:
            self.items.begin_waivers()
            touched = set(self.items.states)
            changed = set(monitored_conditions(context.pack))
        before = PreCallState(self.gates.cued_since, len(self.finding_log.findings)) if calls else None
        changes = StepChanges((), ())
        if changed or touched or context.timers.next_s <= sim_s:
            changes = self._run_parts(changed, touched, full=full)
        if changed:
            self._callouts.step(changed, full=full)
            self._flight_times.step(changed, full=full)
        if changed or self.traces.active:
            self.traces.step(changed)
        if before is not None:
            self._call_history.record(calls, changes, before)

    def undo_call(self, name: str, by: str) -> None:
        """Undo the latest entry of a call.

        Raises:
            InputFaults: The call is not in effect.
        """
        entry = self._call_history.undo_latest(name)
        self.context.emit(CallUndone(self.context.sim_s, name, by, entry.sim_s))
        changed = self.context.monitors.undo_call(name)
        self._run_parts(changed, set(), full=False, undone_call=entry)
        self.traces.step(changed)

    def waive(self, state: ItemState, reason: str, by: str) -> None:
        """Waive an item, and close its findings; the next step judges it."""
        self.items.waive(state, reason, by, pending=not self.started)
        self.gate_requirements.item_waived(state)
        self.order_rules.item_waived(state)

    def _run_parts(
        self, changed: set[str], touched: set[str], *, full: bool, undone_call: CallHistoryEntry | None = None
    ) -> StepChanges:
        """Run all parts in their order; `undone_call` is the call that is undone in this step."""
        undone = self._call_undo.restore_items(undone_call) if undone_call else []
        changes = [*undone, *self.items.update(changed | touched)]
        for change in changes:
            self.gate_requirements.item_changed(change)
        self.order_rules.step(changes, changed)
        if full:
            self.gates.enter_first_phase()
        if undone_call:
            self._call_undo.restore_watches(undone_call)
        watch_changes = self.watches.step(changed, full=full)
        cued = set(self.context.cued_gates)
        self._pass_gates(changed, full=full)
        if undone_call:
            self._call_undo.restore_gates(undone_call, cued, changed)
        for key in self.context.timers.pop_due(self.context.sim_s):
            self._handle_timer(*key)
        self.notices.flush(changed)
        return StepChanges(changes, watch_changes)

    def _pass_gates(self, changed: set[str], *, full: bool) -> None:
        """Evaluate cues and entries, and what depends on a new phase."""
        phase = self.context.phase
        reopened = self.gates.step(changed, full=full)
        for change in self.items.update(reopened):
            self.gate_requirements.item_changed(change)
        if self.context.phase != phase:
            for change in self.items.update(self._watch_start.phase_changed()):
                self.gate_requirements.item_changed(change)
            self.watches.step((), full=True)

    def _handle_timer(self, timer: str, gate: str, item: str) -> None:
        """Handle a timer that is due."""
        kind, _, family = timer.partition(" ")
        match kind:
            case "hold" if self.gates.may_be_passed(gate):
                self.context.timers.set((timer, gate, item), self.context.sim_s + LOOK_AGAIN_S)
            case "hold":
                self.gate_requirements.hold_elapsed(gate, item)
            case "clear":
                self.gate_requirements.clear_elapsed(item)
            case "watch":
                self.watches.timer_elapsed(item)
            case "order":
                self.order_rules.hold_elapsed(RuleKind(family), item)
            case "repeat":
                self.notices.repeat_due(family, gate, item)
