"""Judge: frames in, events out; every step runs its parts in one fixed order.

The order within a step, and of its events:

1. a reset of the monitors; then the calls that were entered
2. verdicts of items, in the pack's order: all that changed in one sample changed at the same time
3. findings that those close, and errors of order; then the watches
4. gates: cues, then entries; the findings of a gate, then its entry, then the new phase
5. holds, clear times and repeat intervals that are due, earliest first
6. notices, the most severe first, then the summary of a quiet period
7. callouts, and flight times
8. traces that ended

Verdicts come before timers: a hold that ends in the step in which the item is corrected opens no finding.

Takes: frames, the passing of time, calls, confirmations and waivers.  Gives: events, findings, `Snapshot`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import partial
from typing import Protocol

from rules.judge.call_history import (
    CallHistory,
    CallHistoryEntry,
    CallUndo,
    PreCallState,
    StepChanges,
    remove_early_call,
)
from rules.judge.callouts import Callouts
from rules.judge.condition_ids import monitored_conditions
from rules.judge.context import JudgeContext
from rules.judge.events import CallEntered, CallUndone, Finding, JudgeEvent, MonitorsReset, TripUpdated
from rules.judge.figures import FigureEvaluator
from rules.judge.finding_sentences import current_sentence
from rules.judge.findings import FindingLog, RuleKind
from rules.judge.flight_times import FlightTimeTracker
from rules.judge.gate_requirements import GateRequirements
from rules.judge.gates import Gates
from rules.judge.items import Items
from rules.judge.notices import NoticeScheduler
from rules.judge.order_rules import OrderRules
from rules.judge.requests import (
    confirmable_item,
    confirming_seat,
    known_call,
    known_item,
    known_trip_signal,
    waiver_reason,
)
from rules.judge.signal_activity import SignalActivity
from rules.judge.snapshot import Snapshot, take_snapshot
from rules.judge.trace_recorder import TraceRecorder
from rules.judge.watches import Watches
from rules.language.online import Monitors
from rules.packs.model import Level, Pack
from rules.signals.model import Frame, Sample, Value
from rules.signals.state import SignalState


class TripValues(Protocol):
    """Trip sheet, as far as the judge reads it."""

    @property
    def values(self) -> Mapping[str, Value]:
        """Values of the trip sheet by signal name ("trip.v1"), in the book's units."""


class Judge:
    """Judges one flight by one pack; it has no clock, thread or socket, and serves one caller at a time."""

    def __init__(
        self, pack: Pack, trip: TripValues, *, steady: bool = False, calls_entered: bool = False
    ) -> None:
        """Prepare for the first frame.

        Args:
            pack: The rules.
            trip: The trip sheet.
            steady: True if the first frame is a static state: its values count as unchanged for any length of time.
            calls_entered: True if calls are known to be entered.  Otherwise, until the first call of any kind, "not
            called" is
                unknown, so that a simulator without calls gets no notices about clearances.
        """
        self._trip_values = dict(trip.values)
        state, self._figures, monitors = self._make_evaluation(
            pack, steady=steady, calls_entered=calls_entered
        )
        self.context = JudgeContext(pack, state, monitors)
        self.items = Items(self.context)
        readers = self.items.readers()
        derived = self._trip_values.keys() | {figure.signal.name for figure in pack.figures}
        valued = {name for s in self.items.states.values() for name in s.value_signals if name not in derived}
        self._activity = self._make_activity(valued, readers)
        self._notices = NoticeScheduler(self.context, partial(current_sentence, self.context, self.items))
        self._finding_log = FindingLog(self.context, self._notices)
        self.gate_requirements = GateRequirements(self.context, self.items, self._activity, self._finding_log)
        self._order_rules = OrderRules(self.context, self.items, self.gate_requirements, self._finding_log)
        self.watches = Watches(self.context, self._finding_log)
        self.gates = Gates(
            self.context, self.items, self.gate_requirements, self._finding_log, self._notices, self._activity
        )
        self.traces = TraceRecorder(self.context, self._finding_log.findings)
        self._callouts = Callouts(self.context)
        self._flight_times = FlightTimeTracker(self.context)
        self._call_history = CallHistory(self.context)
        self._call_undo = CallUndo(
            self.context, self.items, self.watches, self._order_rules, self.gates, self._finding_log
        )
        self._started = False
        self._early_calls: list[CallEntered] = []

    def _make_evaluation(
        self, pack: Pack, *, steady: bool, calls_entered: bool
    ) -> tuple[SignalState, FigureEvaluator, Monitors]:
        """Create the state, the figures and the monitors."""
        state = SignalState(pack.signals)
        figures = FigureEvaluator(pack, state)
        monitors = Monitors(
            monitored_conditions(pack), state, steady=steady, calls_entered=calls_entered, names=figures
        )
        return state, figures, monitors

    def _make_activity(
        self, values: Collection[str], readers: Mapping[str, Collection[str]]
    ) -> SignalActivity:
        """Create the activity of single signals."""
        return SignalActivity(values, readers)

    @property
    def findings(self) -> list[Finding]:
        """Findings of the session, in the order of their numbers."""
        return list(self._finding_log.findings)

    @property
    def quiet(self) -> bool:
        """True if notices of any level are held back."""
        return bool(self._notices.quiet_levels)

    @property
    def quiet_levels(self) -> tuple[Level, ...]:
        """Levels that are held back."""
        return self._notices.quiet_levels

    def judge_frame(self, frame: Frame) -> list[JudgeEvent]:
        """Judge one frame.

        Args:
            frame: Contents of one datagram.  Calls that the pack does not know are ignored.

        Returns:
            The events of this step, in the order given above.
        """
        state = self.context.state
        first = not self._started or frame.epoch != state.epoch
        if first:
            self._restart(frame)
        elif expired := state.expire(frame.recv_s):
            self._step(expired + self._figures.update(expired), ())
        samples = state.fold(frame)
        known = self.context.pack.calls
        calls = tuple(CallEntered(frame.sim_s, call, "") for call in frame.calls if call in known)
        if first:
            samples = [*map(state.sample, self._trip_values), *samples, *self._figures.evaluate_all()]
            calls, self._early_calls = (*self._early_calls, *calls), []
        else:
            samples += self._figures.update(samples)
        self._step(samples, calls, full=first)
        return self.context.drain()

    def expiry_due(self, recv_s: float) -> bool:
        """True if a sample is too old by `recv_s`, so that `tick` would change the state."""
        return self._started and self.context.state.would_expire(recv_s)

    def tick(self, recv_s: float) -> list[JudgeEvent]:
        """Let time pass without a frame, up to `recv_s` of the monotonic clock: samples that are too old become stale."""
        expired = self.context.state.expire(recv_s) if self._started else []
        if expired:
            self._step(expired + self._figures.update(expired), ())
        return self.context.drain()

    def enter_call(self, name: str, by: str = "") -> list[JudgeEvent]:
        """Enter a call; before the first frame it stays pending.

        Args:
            name: Id of the call in the pack.
            by: Who entered it.

        Raises:
            InputFaults: The pack has no such call.
        """
        entered = CallEntered(self.context.sim_s, known_call(self.context.pack, name), by)
        if not self._started:
            self._early_calls.append(entered)
            return []
        self._step((), (entered,))
        return self.context.drain()

    def undo_call(self, call: str, by: str = "") -> list[JudgeEvent]:
        """Undo the latest call of this name.

        A phase that was entered is not left, a notice that was given is not withdrawn, and conditions keep their memory
        of the time since the call (a hold, a rise).

        Args:
            call: Id of the call in the pack.
            by: Who undoes it.

        Raises:
            InputFaults: The pack has no such call, or it is not in effect.
        """
        name = known_call(self.context.pack, call, "undo-call")
        if not self._started:
            remove_early_call(self._early_calls, name)
            return []
        entry = self._call_history.undo_latest(name)
        self.context.emit(CallUndone(self.context.sim_s, name, by, entry.sim_s))
        changed = self.context.monitors.undo_call(name, none_left=self._call_history.calls_unknown)
        self._run_parts(changed, set(), full=False, undone_call=entry)
        self.traces.step(changed)
        return self.context.drain()

    def confirm(self, item: str, seat: str = "") -> list[JudgeEvent]:
        """Confirm an item that no signal shows.

        Args:
            item: Whole id of an item with `confirm`.
            seat: Seat that confirms it; '' for the seat that owns the item.

        Raises:
            InputFaults: No such item or seat, or a signal shows the item.
        """
        state = confirmable_item(self.items, item)
        self.items.confirm(state, confirming_seat(self.context.pack, state, seat))
        return self._judge_items([item])

    def waive(self, item: str, by: str, reason: str) -> list[JudgeEvent]:
        """Waive an item for this flight, and close its findings.

        Args:
            item: Whole id of the item.
            by: Who waives it.
            reason: Reason, not empty.

        Raises:
            InputFaults: No such item, or no reason.
        """
        state = known_item(self.items, item, "waive")
        self.items.waive(state, waiver_reason(item, reason), by)
        self.gate_requirements.item_waived(state)
        self._order_rules.item_waived(state)
        return self._judge_items([item])

    @property
    def trip_values(self) -> dict[str, Value]:
        """Present values of the trip sheet, by signal name."""
        return dict(self._trip_values)

    def update_trip(self, values: Mapping[str, Value], by: str = "") -> list[JudgeEvent]:
        """Set values of the trip sheet, such as for another runway or the next sector.

        Items that read a changed value have to be met again.

        Args:
            values: New values by signal name ("trip.v1"), in the book's units.
            by: Who changed them.

        Raises:
            InputFaults: Not a signal of the trip sheet.
        """
        names = [known_trip_signal(self.context.pack, name) for name in values]
        self._trip_values.update(values)
        if not self._started:
            return []
        self.context.emit(TripUpdated(self.context.sim_s, tuple(names), by))
        samples = [s for n in names for s in self.context.state.set_value(n, values[n], self.context.sim_s)]
        samples += self._figures.update(samples)
        readers = self.items.readers()
        read = {item for sample in samples for item in readers.get(sample.name, ())}
        self._step(samples, (), touched=set(self.items.unverify(read)) | read)
        return self.context.drain()

    def snapshot(self) -> Snapshot:
        """Snapshot of the present state, for screens."""
        return take_snapshot(self)

    def has_open_finding(self, item: str) -> bool:
        """True if any finding on this item is open."""
        return any(self._finding_log.open_for(item, family) for family in RuleKind)

    def _restart(self, frame: Frame) -> None:
        """Start with the first frame, or again after the simulator clock jumped back."""
        context = self.context
        last_s = context.sim_s
        context.state.restart(frame.epoch)
        context.sim_s = frame.sim_s
        if self._started:
            context.monitors.restart()
            context.timers.clear()
            self.gates.reset()
            self._finding_log.abandon_open()
            self._notices.reset()
            self._activity.reset()
            self.items.reset()
            self.watches.reset()
            context.emit(MonitorsReset(frame.sim_s, frame.epoch))
            self.traces.end_all(last_s)
        for state in self.items.states.values():
            state.since_s = frame.sim_s
        for name, value in self._trip_values.items():
            context.state.set_value(name, value, frame.sim_s)
        self._started = True

    def _judge_items(self, ids: Collection[str]) -> list[JudgeEvent]:
        """Judge items after a request."""
        if self._started:
            self._step((), (), touched=ids)
        return self.context.drain()

    def _step(
        self,
        samples: Sequence[Sample],
        calls: Sequence[CallEntered],
        *,
        touched: Collection[str] = (),
        full: bool = False,
    ) -> None:
        """Run one step at the present time of the state."""
        context = self.context
        context.sim_s = sim_s = context.state.sim_s
        changed = context.monitors.advance(sim_s, samples, [call.call for call in calls])
        self._call_history.start_step(calls)
        touched = self._activity.observe(samples) | set(touched)
        for call in calls:
            context.emit(CallEntered(sim_s, call.call, call.by))
        if full:
            touched = set(self.items.states)
            changed = set(monitored_conditions(context.pack))
        before = PreCallState(self.gates.cued_since, len(self._finding_log.findings)) if calls else None
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

    def _run_parts(
        self, changed: set[str], touched: set[str], *, full: bool, undone_call: CallHistoryEntry | None = None
    ) -> StepChanges:
        """Run all parts in their order; `undone_call` is the call that is undone in this step."""
        undone = self._call_undo.restore_items(undone_call) if undone_call else []
        changes = [*undone, *self.items.update(changed | touched)]
        for change in changes:
            self.gate_requirements.item_changed(change)
        self._order_rules.step(changes, changed)
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
        self._notices.flush(changed)
        return StepChanges(changes, watch_changes)

    def _pass_gates(self, changed: set[str], *, full: bool) -> None:
        """Evaluate cues and entries, and what depends on a new phase."""
        phase = self.context.phase
        reopened = self.gates.step(changed, full=full)
        for change in self.items.update(reopened):
            self.gate_requirements.item_changed(change)
        if self.context.phase != phase:
            self.watches.step((), full=True)

    def _handle_timer(self, timer: str, gate: str, item: str) -> None:
        """Handle a timer that is due."""
        kind, _, family = timer.partition(" ")
        match kind:
            case "hold":
                self.gate_requirements.hold_elapsed(gate, item)
            case "clear":
                self.gate_requirements.clear_elapsed(item)
            case "watch":
                self.watches.timer_elapsed(item)
            case "order":
                self._order_rules.hold_elapsed(RuleKind(family), item)
            case "repeat":
                self._notices.repeat_due(family, gate, item)
