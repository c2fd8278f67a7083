"""The core: frames in, entries out; every step of the judging in one fixed order.

The order within a step, and so of its entries:

1. a reset of the monitors; then the calls that were entered
2. verdicts of items, in the pack's order: all that changed in one sample changed at the same moment
3. what that mends, and what was done too early or out of order; then the watches
4. gates: cues, then the entries; a gate's findings, then its entry, then the new phase
5. holds, clear times and back-offs that are due, earliest first
6. notices, the gravest first, then what a quiet period held back
7. callouts, and the times of the flight
8. strips that came to their end

Verdicts come before timers: a hold that ends in the same step in which the item is mended finds nothing.

Takes: frames, the passing of time, calls, confirmations and excuses.  Gives: entries, findings, `Picture`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from functools import partial
from typing import Protocol

from rules.judge.call_history import CallHistory, CallHistoryEntry, CallUndo, PreCallState, StepChanges
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
    not_called_error,
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
    """What the judge reads of a trip sheet."""

    @property
    def values(self) -> Mapping[str, Value]:
        """The papers' values by signal name ("trip.v1"), in the book's units."""


class Judge:
    """Judges one flight by one pack.  It has no clock, no thread and no socket; one caller at a time."""

    def __init__(
        self, pack: Pack, trip: TripValues, *, steady: bool = False, calls_entered: bool = False
    ) -> None:
        """Get ready for the first frame.

        Args:
            pack: The rules.
            trip: The papers' values.
            steady: Whether the first frame is a still picture: what it shows has been so for ever.
            calls_entered: Whether it is known that calls are entered.  Otherwise, until the first one of any kind,
                "not called" is unknown, so that a simulator without calls is not nagged about clearances.
        """
        self._trip_values = dict(trip.values)
        state, self._figures, monitors = self._make_evaluation(
            pack, steady=steady, calls_entered=calls_entered
        )
        self.context = JudgeContext(pack, state, monitors)
        self.items = Items(self.context)
        readers = self.items.readers()
        told = self._trip_values.keys() | {figure.signal.name for figure in pack.figures}
        valued = {name for s in self.items.states.values() for name in s.value_signals if name not in told}
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
        """What the judge stands on: the state, the figures, the monitors."""
        state = SignalState(pack.signals)
        figures = FigureEvaluator(pack, state)
        monitors = Monitors(
            monitored_conditions(pack), state, steady=steady, calls_entered=calls_entered, names=figures
        )
        return state, figures, monitors

    def _make_activity(
        self, values: Collection[str], readers: Mapping[str, Collection[str]]
    ) -> SignalActivity:
        """What is remembered of single signals."""
        return SignalActivity(values, readers)

    @property
    def findings(self) -> list[Finding]:
        """Every finding of the session as it now stands, in the order of its number."""
        return list(self._finding_log.findings)

    @property
    def quiet(self) -> bool:
        """Whether notices of some level are held back now."""
        return bool(self._notices.quiet_levels)

    @property
    def quiet_levels(self) -> tuple[Level, ...]:
        """The levels that are held back now."""
        return self._notices.quiet_levels

    def judge_frame(self, frame: Frame) -> list[JudgeEvent]:
        """Judge one frame.

        Args:
            frame: What one datagram said.  Calls that the pack does not know are passed over.

        Returns:
            The entries of this step, in the order of the module's head.
        """
        state = self.context.state
        first = not self._started or frame.epoch != state.epoch
        if first:
            self._restart(frame)
        elif late := state.expire(frame.recv_s):
            self._step(late + self._figures.update(late), ())
        samples = state.fold(frame)
        known = self.context.pack.calls
        calls = (
            tuple(CallEntered(frame.sim_s, c, "") for c in frame.calls if c in known) if frame.calls else ()
        )
        if first:
            samples = [*map(state.sample, self._trip_values), *samples, *self._figures.evaluate_all()]
            calls, self._early_calls = (*self._early_calls, *calls), []
        else:
            samples += self._figures.update(samples)
        self._step(samples, calls, full=first)
        return self.context.drain()

    def expiry_due(self, recv_s: float) -> bool:
        """Whether something is too old by `recv_s`, so that `tick` would change what is known."""
        return self._started and self.context.state.would_expire(recv_s)

    def tick(self, recv_s: float) -> list[JudgeEvent]:
        """Let time pass while nothing arrives: what is too old becomes unknown.

        Args:
            recv_s: The monotonic clock now.  The simulator's clock stands still.
        """
        late = self.context.state.expire(recv_s) if self._started else []
        if late:
            self._step(late + self._figures.update(late), ())
        return self.context.drain()

    def enter_call(self, name: str, by: str = "") -> list[JudgeEvent]:
        """Enter something said that no signal shows; before the first frame it waits for that.

        Args:
            name: The call's id in the pack.
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
        """Take the latest making of a call back, as if it had not been made.

        A phase that was entered is not left, a notice that was given is not unsaid, and what conditions remember of
        the time in between (a hold, a rise) stays.

        Args:
            call: The call's id in the pack.
            by: Who takes it back.

        Raises:
            InputFaults: The pack has no such call, or it was not made.
        """
        name = known_call(self.context.pack, call, "undo-call")
        if not self._started:
            return self._undo_early_call(name)
        spoken = self._call_history.undo_latest(name)
        self.context.emit(CallUndone(self.context.sim_s, name, by, spoken.sim_s))
        changed = self.context.monitors.undo_call(name, none_left=self._call_history.calls_unknown)
        self._run_parts(changed, set(), full=False, undone_call=spoken)
        self.traces.step(changed)
        return self.context.drain()

    def _undo_early_call(self, name: str) -> list[JudgeEvent]:
        """Take back a call that still waits for the first frame."""
        waiting = [call.call for call in self._early_calls]
        if name not in waiting:
            raise not_called_error(name, dict.fromkeys(waiting))
        del self._early_calls[len(waiting) - 1 - waiting[::-1].index(name)]
        return []

    def confirm(self, item: str, seat: str = "") -> list[JudgeEvent]:
        """Take the crew's word for something that no signal can show.

        Args:
            item: The whole id of an item with `confirm`.
            seat: Who says it; '' for the seat that owns the item.

        Raises:
            InputFaults: No such item or seat, or a signal shows the item: so, not said.
        """
        state = confirmable_item(self.items, item)
        self.items.confirm(state, confirming_seat(self.context.pack, state, seat))
        return self._judge_items([item])

    def waive(self, item: str, by: str, reason: str) -> list[JudgeEvent]:
        """Let an item not count on this flight; what was found on it is closed.

        Args:
            item: Its whole id.
            by: Who excuses it.
            reason: Why; it must say something.

        Raises:
            InputFaults: No such item, or no reason.
        """
        state = known_item(self.items, item, "waive")
        self.items.waive(state, waiver_reason(item, by, reason))
        self.gate_requirements.item_waived(state)
        self._order_rules.item_waived(state)
        return self._judge_items([item])

    @property
    def trip_values(self) -> dict[str, Value]:
        """The trip sheet's values as they now hold, by signal name."""
        return dict(self._trip_values)

    def update_trip(self, values: Mapping[str, Value], by: str = "") -> list[JudgeEvent]:
        """Take new papers (another runway, the next sector); what reads them is unverified again.

        Args:
            values: By signal name ("trip.v1"), in the book's units; those that stay need not be said.
            by: Who brings them.

        Raises:
            InputFaults: Not a name of the trip sheet.
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
        """How everything stands now, for screens; it does not change afterwards."""
        return take_snapshot(self)

    def has_open_finding(self, item: str) -> bool:
        """Whether something found on this item is still open."""
        return any(self._finding_log.open_for(item, family) for family in RuleKind)

    def _restart(self, frame: Frame) -> None:
        """Begin at the first frame, or anew where the simulator's clock jumped back."""
        session = self.context
        last_s = session.sim_s
        session.state.restart(frame.epoch)
        session.sim_s = frame.sim_s
        if self._started:
            session.monitors.restart()
            session.timers.clear()
            self.gates.reset()
            self._finding_log.abandon_open()
            self._notices.reset()
            self._activity.reset()
            self.items.reset()
            self.watches.reset()
            session.emit(MonitorsReset(frame.sim_s, frame.epoch))
            self.traces.end_all(last_s)
        for state in self.items.states.values():
            state.since_s = frame.sim_s
        for name, value in self._trip_values.items():
            session.state.set_value(name, value, frame.sim_s)
        self._started = True

    def _judge_items(self, ids: Collection[str]) -> list[JudgeEvent]:
        """Judge what somebody said about items."""
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
        """One step at the state's present time."""
        session = self.context
        session.sim_s = sim_s = session.state.sim_s
        changed = session.monitors.advance(sim_s, samples, [call.call for call in calls])
        self._call_history.start_step(calls)
        touched = self._activity.observe(samples) | set(touched)
        for call in calls:
            session.emit(CallEntered(sim_s, call.call, call.by))
        if full:
            touched = set(self.items.states)
            changed = set(monitored_conditions(session.pack))
        before = PreCallState(self.gates.cued_since, len(self._finding_log.findings)) if calls else None
        did = StepChanges((), ())
        if changed or touched or session.timers.next_s <= sim_s:
            did = self._run_parts(changed, touched, full=full)
        if changed:
            self._callouts.step(changed, full=full)
            self._flight_times.step(changed, full=full)
        if changed or self.traces.active:
            self.traces.step(changed)
        if before is not None:
            self._call_history.record(calls, did, before)

    def _run_parts(
        self, changed: set[str], touched: set[str], *, full: bool, undone_call: CallHistoryEntry | None = None
    ) -> StepChanges:
        """Take a step through all the parts, in the order of the module's head; `back` is a call taken back."""
        undone = self._call_undo.restore_items(undone_call) if undone_call else []
        changes = [*undone, *self.items.update(changed | touched)]
        for change in changes:
            self.gate_requirements.item_changed(change)
        self._order_rules.step(changes, changed)
        if full:
            self.gates.enter_first_phase()
        if undone_call:
            self._call_undo.restore_watches(undone_call)
        turns = self.watches.step(changed, full=full)
        cued = set(self.context.cued_gates)
        self._pass_gates(changed, full=full)
        if undone_call:
            self._call_undo.restore_gates(undone_call, cued, changed)
        for key in self.context.timers.pop_due(self.context.sim_s):
            self._handle_timer(*key)
        self._notices.flush(changed)
        return StepChanges(changes, turns)

    def _pass_gates(self, changed: set[str], *, full: bool) -> None:
        """Cues and entries, and what a new phase brings with it."""
        phase = self.context.phase
        reopened = self.gates.step(changed, full=full)
        for change in self.items.update(reopened):
            self.gate_requirements.item_changed(change)
        if self.context.phase != phase:
            self.watches.step((), full=True)

    def _handle_timer(self, timer: str, gate: str, item: str) -> None:
        """Do what a timer was set for."""
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
