"""Judge: frames in, events out; the public face of the judge together with `events` and `snapshot`.

Its parts are private: screens and reports read the `Snapshot`.

Takes: frames, the passing of time, calls, confirmations, waivers.  Gives: events, findings, `Snapshot`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING, Protocol

from rules.judge.call_history import remove_early_call
from rules.judge.condition_ids import as_seen_ids, monitored_conditions
from rules.judge.events import CallEntered, Finding, JudgeEvent, TripUpdated
from rules.judge.figures import FigureEvaluator, compute_figures, lossy_signals
from rules.judge.requests import (
    confirmable_item,
    confirming_seat,
    known_call,
    known_trip_signal,
    waivable_items,
    waived_items,
    waiver_reason,
)
from rules.judge.snapshot import Snapshot
from rules.judge.snapshot_builder import SnapshotBuilder
from rules.judge.stepper import Evaluation, Stepper
from rules.language.online import CallAvailability, Monitors
from rules.packs.model import Pack
from rules.signals.model import Frame, Value
from rules.signals.state import SignalState

if TYPE_CHECKING:
    from rules.judge.batch import BatchJudge
    from rules.signals.input_log import InputLog

__all__ = ["Judge", "TripValues", "batch_judge", "compute_figures"]


class TripValues(Protocol):
    """Trip sheet, as far as the judge reads it."""

    @property
    def values(self) -> Mapping[str, Value]:
        """Values of the trip sheet by signal name ("trip.v1"), in the book's units."""

    @property
    def calls(self) -> Collection[str] | None:
        """Speakers whose calls are entered, None where the sheet does not say."""


class Judge:
    """Judges one flight by one pack; it has no clock, thread or socket, and serves one caller at a time.

    Attributes:
        pack: The rules.
    """

    def __init__(
        self, pack: Pack, trip: TripValues, *, steady: bool = False, calls_entered: bool = False
    ) -> None:
        """Prepare for the first frame.

        Args:
            pack: The rules.
            trip: The trip sheet.
            steady: True if the first frame is a static state: its values count as unchanged for any length of time.
            calls_entered: True if all calls are known to be entered.  Otherwise "not called" is unknown for each speaker
                until the calls show that his are entered, so that a simulator without calls gets no notices about
                clearances.
        """
        self.pack = pack
        self._trip_values = dict(trip.values)
        speakers = {call.id: call.by for call in pack.calls.values()}
        calls = CallAvailability(speakers, trip.calls, entered=calls_entered)
        evaluation = self._make_evaluation(steady=steady, calls=calls)
        self._stepper = Stepper(pack, evaluation, self._trip_values, steady=steady)
        self._context, self._figures = self._stepper.context, evaluation.figures
        self._snapshot_builder: SnapshotBuilder | None = None
        self._early_calls: list[CallEntered] = []

    def _make_evaluation(self, *, steady: bool, calls: CallAvailability) -> Evaluation:
        """Create what evaluates the pack."""
        state = SignalState(self.pack.signals)
        figures = FigureEvaluator(self.pack, state)
        conditions = monitored_conditions(self.pack)
        monitors = Monitors(
            conditions,
            state,
            steady=steady,
            calls=calls,
            names=figures,
            lossy=lossy_signals(self.pack),
            as_seen=as_seen_ids(self.pack),
        )
        return Evaluation(state, figures, monitors)

    @property
    def sim_s(self) -> float:
        """Simulator time of the latest step, in seconds."""
        return self._context.sim_s

    @property
    def phase(self) -> str:
        """Id of the present phase, '' before the first frame."""
        return self._context.phase

    @property
    def findings(self) -> list[Finding]:
        """Findings of the session, in the order of their numbers."""
        return list(self._stepper.finding_log.findings)

    @property
    def trip_values(self) -> dict[str, Value]:
        """Present values of the trip sheet, by signal name."""
        return dict(self._trip_values)

    def snapshot(self) -> Snapshot:
        """Present state, frozen.

        Only what changed since the last snapshot is rebuilt; without a step in between it is the same object.
        """
        return self._builder().snapshot()

    def current_snapshot(self) -> Snapshot:
        """Present state, for screens that show it at once: only the words that are read are composed.

        It equals `snapshot()`, but for words that are read after the next step or request, which raises `OutdatedSnapshotError`.
        """
        return self._builder().current()

    def _builder(self) -> SnapshotBuilder:
        if self._snapshot_builder is None:
            self._snapshot_builder = SnapshotBuilder(self._stepper)
        return self._snapshot_builder

    def explained_snapshot(self) -> Snapshot:
        """Present state, built from scratch, in which satisfied items have their sentences and values too."""
        return SnapshotBuilder(self._stepper, explain_all=True).snapshot()

    def judge_frame(self, frame: Frame) -> list[JudgeEvent]:
        """Judge one frame.

        Args:
            frame: Contents of one datagram.  Calls that the pack does not know are ignored.

        Returns:
            The events of this step, in their order.
        """
        stepper, state = self._stepper, self._context.state
        first = not stepper.started or frame.epoch != state.epoch
        if first:
            self._restart(frame, calls_sent=bool(frame.calls))
        else:
            for aged in (state.resume(frame), state.expire(frame.recv_s)):
                if aged:
                    stepper.step(aged + self._figures.update(aged))
        before_s, touched = state.sim_s, tuple[str, ...]()
        samples = state.fold(frame)
        known = self.pack.calls
        calls = tuple(CallEntered(frame.sim_s, call, "") for call in frame.calls if call in known)
        if first:
            samples = [*map(state.sample, self._trip_values), *samples, *self._figures.evaluate_all()]
            calls, self._early_calls = (*self._early_calls, *calls), []
        else:
            samples += self._figures.update(samples)
            if frame.missing_from_s is not None:
                touched = self._note_gap(frame, before_s)
        stepper.step(samples, calls, touched=touched, full=first)
        return self._context.drain()

    def expiry_due(self, recv_s: float) -> bool:
        """True if a sample is too old by `recv_s`, so that `tick` would change the state."""
        return self._stepper.started and self._context.state.would_expire(recv_s)

    def tick(self, recv_s: float) -> list[JudgeEvent]:
        """Let time pass without a frame, up to `recv_s` of the monotonic clock: samples that are too old become stale."""
        expired = self._context.state.expire(recv_s) if self._stepper.started else []
        if expired:
            self._stepper.step(expired + self._figures.update(expired))
        return self._context.drain()

    def enter_call(self, name: str, by: str = "") -> list[JudgeEvent]:
        """Enter a call; before the first frame it stays pending.

        Args:
            name: Id of the call in the pack.
            by: Who entered it.

        Raises:
            InputFaults: The pack has no such call.
        """
        entered = CallEntered(self.sim_s, known_call(self.pack, name), by)
        if not self._stepper.started:
            self._early_calls.append(entered)
            return []
        self._stepper.step((), (entered,))
        return self._context.drain()

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
        name = known_call(self.pack, call, "undo-call")
        if not self._stepper.started:
            remove_early_call(self._early_calls, name)
            return []
        self._stepper.undo_call(name, by)
        return self._context.drain()

    def confirm(self, item: str, seat: str = "") -> list[JudgeEvent]:
        """Confirm an item that no signal shows.

        Args:
            item: Whole id of an item with `confirm`.
            seat: Seat that confirms it; '' for the seat that owns the item.

        Raises:
            InputFaults: No such item or seat, or a signal shows the item.
        """
        items = self._stepper.items
        state = confirmable_item(items, item)
        items.confirm(state, confirming_seat(self.pack, state, seat))
        return self._judge_items([item])

    def waive(self, item: str, by: str, reason: str) -> list[JudgeEvent]:
        """Waive an item for this flight, and close its findings.

        Args:
            item: Whole id of the item; all matches of an item with a `*`, where its match is not named.
            by: Who waives it.
            reason: Reason, not empty.

        Raises:
            InputFaults: No such item, it is waived already, or no reason.
        """
        states, why = waivable_items(self._stepper.items, item), waiver_reason(item, reason)
        for state in states:
            self._stepper.waive(state, why, by)
        return self._judge_items([state.id for state in states])

    def undo_waiver(self, item: str, by: str, reason: str = "") -> list[JudgeEvent]:
        """Undo the waiver of an item, which is judged as any other again.

        What the waiver closed stays closed; where the error is still there, it is a new finding.

        Args:
            item: Whole id of the item; all waived matches of an item with a `*`, where its match is not named.
            by: Who undoes it.
            reason: Why, may be ''.

        Raises:
            InputFaults: No such item, it is not waived, or by the trip sheet.
        """
        states = waived_items(self._stepper.items, item)
        for state in states:
            self._stepper.items.undo_waiver(state, reason.strip(), by)
        return self._judge_items([state.id for state in states])

    def update_trip(self, values: Mapping[str, Value], by: str = "") -> list[JudgeEvent]:
        """Set values of the trip sheet, such as for another runway or the next sector.

        Items that read a changed value have to be met again.

        Args:
            values: New values by signal name ("trip.v1"), in the book's units.
            by: Who changed them.

        Raises:
            InputFaults: Not a signal of the trip sheet.
        """
        names = [known_trip_signal(self.pack, name) for name in values]
        self._trip_values.update(values)
        if not self._stepper.started:
            return []
        context, items = self._context, self._stepper.items
        context.emit(TripUpdated(context.sim_s, tuple(names), by))
        samples = [s for n in names for s in context.state.set_value(n, values[n], context.sim_s)]
        samples += self._figures.update(samples)
        readers = items.readers()
        read = {item for sample in samples for item in readers.get(sample.name, ())}
        self._stepper.step(samples, touched=set(items.unverify(read)) | read)
        return context.drain()

    def _restart(self, frame: Frame, *, calls_sent: bool) -> None:
        """Start with the first frame, or again after the simulator clock jumped back."""
        self._stepper.restart(frame.sim_s, frame.epoch, calls_sent=calls_sent)
        for name, value in self._trip_values.items():
            self._context.state.set_value(name, value, frame.sim_s)

    def _note_gap(self, frame: Frame, before_s: float) -> tuple[str, ...]:
        """Make what looks back over the data missing before a frame unknown.

        Args:
            frame: The frame.
            before_s: The time of the step before.

        Returns:
            Ids of the items to judge again.
        """
        start_s, sim_s = frame.gap_start_s, self._context.state.sim_s
        if start_s is None or max(start_s, before_s) >= sim_s:
            return ()
        self._context.monitors.lose_data(max(start_s, before_s), sim_s)
        return tuple(self._stepper.note_gap(max(start_s, before_s), frame.missing_records))

    def _judge_items(self, ids: Collection[str]) -> list[JudgeEvent]:
        """Judge items after a request."""
        if self._stepper.started:
            self._stepper.step((), touched=ids)
        return self._context.drain()


def batch_judge(
    pack: Pack, trip: TripValues, input_log: InputLog, *, calls_entered: bool = False
) -> BatchJudge:
    """Make a judge of a whole recording, which gives the same events sooner.

    Args:
        pack: The rules.
        trip: Trip values at the beginning.
        input_log: The inputs; each request in it is a `BatchRequest`.
        calls_entered: As for `Judge`.

    Raises:
        NotColumnar: The input log has to be judged frame by frame.
    """
    from rules.judge.batch import BatchJudge  # it is a `Judge`, and needs numpy

    return BatchJudge(pack, trip, input_log, calls_entered=calls_entered)
