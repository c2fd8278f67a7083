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
from typing import Protocol

from rules.judge.asked import (
    confirmable,
    confirming_seat,
    given_reason,
    known_call,
    known_item,
    known_paper,
    not_called,
)
from rules.judge.callouts import Callouts
from rules.judge.calls import Before, Calls, Did, Retraction, Spoken
from rules.judge.entries import CallEntered, CallRetracted, Entry, Finding, MonitorsReset, PapersAmended
from rules.judge.figures import Figures
from rules.judge.findings import About, Family, Ledger
from rules.judge.gates import Gates
from rules.judge.items import Items
from rules.judge.needs import Needs
from rules.judge.notices import Teller
from rules.judge.order import Order
from rules.judge.picture import Picture, take_picture
from rules.judge.session import Session, conditions_of, expect_id
from rules.judge.strips import Strips
from rules.judge.times import Times
from rules.judge.traces import Traces
from rules.judge.watches import Watches
from rules.language.live import Monitors
from rules.packs.model import Level, Pack
from rules.signals.model import Frame, Sample, Value
from rules.signals.state import State


class Papers(Protocol):
    """What the judge reads of a trip sheet."""

    @property
    def values(self) -> Mapping[str, Value]:
        """The papers' values by signal name ("trip.v1"), in the book's units."""


class Core:
    """Judges one flight by one pack.  It has no clock, no thread and no socket; one caller at a time."""

    def __init__(self, pack: Pack, trip: Papers, *, steady: bool = False, calls_heard: bool = False) -> None:
        """Get ready for the first frame.

        Args:
            pack: The rules.
            trip: The papers' values.
            steady: Whether the first frame is a still picture: what it shows has been so for ever.
            calls_heard: Whether it is known that calls are entered.  Otherwise, until the first one of any kind,
                "not called" is unknown, so that a simulator without calls is not nagged about clearances.
        """
        self._papers = dict(trip.values)
        state, self._figures, monitors = self._ground(pack, steady=steady, calls_heard=calls_heard)
        self.session = Session(pack, state, monitors)
        self.items = Items(self.session)
        readers = self.items.readers()
        told = self._papers.keys() | {figure.signal.name for figure in pack.figures}
        valued = {name for s in self.items.states.values() for name in s.values if name not in told}
        self._traces = self._make_traces(valued, readers)
        self._teller = Teller(self.session, self._sentence)
        self._ledger = Ledger(self.session, self._teller)
        self.needs = Needs(self.session, self.items, self._traces, self._ledger)
        self._order = Order(self.session, self.items, self.needs, self._ledger)
        self.watches = Watches(self.session, self._ledger)
        self.gates = Gates(self.session, self.items, self.needs, self._ledger, self._teller, self._traces)
        self.strips = Strips(self.session, self._ledger.record)
        self._callouts = Callouts(self.session)
        self._times = Times(self.session)
        self._calls = Calls(self.session)
        self._retraction = Retraction(
            self.session, self.items, self.watches, self._order, self.gates, self._ledger
        )
        self._begun = False
        self._early: list[CallEntered] = []

    def _ground(self, pack: Pack, *, steady: bool, calls_heard: bool) -> tuple[State, Figures, Monitors]:
        """What the judge stands on: the state, the figures, the monitors."""
        state = State(pack.signals)
        figures = Figures(pack, state)
        heard = {"steady": steady, "calls_heard": calls_heard}
        return state, figures, Monitors(conditions_of(pack), state, names=figures, **heard)

    def _make_traces(self, values: Collection[str], readers: Mapping[str, Collection[str]]) -> Traces:
        """What is remembered of single signals."""
        return Traces(values, readers)

    @property
    def findings(self) -> list[Finding]:
        """Every finding of the session as it now stands, in the order of its number."""
        return list(self._ledger.record)

    @property
    def quiet(self) -> bool:
        """Whether notices of some level are held back now."""
        return bool(self._teller.quiet)

    @property
    def quiet_levels(self) -> tuple[Level, ...]:
        """The levels that are held back now."""
        return self._teller.quiet

    def frame(self, frame: Frame) -> list[Entry]:
        """Judge one frame.

        Args:
            frame: What one datagram said.  Calls that the pack does not know are passed over.

        Returns:
            The entries of this step, in the order of the module's head.
        """
        state = self.session.state
        first = not self._begun or frame.epoch != state.epoch
        if first:
            self._begin(frame)
        elif late := state.expire(frame.recv_s):
            self._step(late + self._figures.follow(late), ())
        samples = state.fold(frame)
        known = self.session.pack.calls
        calls = (
            tuple(CallEntered(frame.sim_s, c, "") for c in frame.calls if c in known) if frame.calls else ()
        )
        if first:
            samples = [*map(state.sample, self._papers), *samples, *self._figures.begin()]
            calls, self._early = (*self._early, *calls), []
        else:
            samples += self._figures.follow(samples)
        self._step(samples, calls, everywhere=first)
        return self.session.take()

    def due(self, recv_s: float) -> bool:
        """Whether something is too old by `recv_s`, so that `tick` would change what is known."""
        return self._begun and self.session.state.due(recv_s)

    def tick(self, recv_s: float) -> list[Entry]:
        """Let time pass while nothing arrives: what is too old becomes unknown.

        Args:
            recv_s: The monotonic clock now.  The simulator's clock stands still.
        """
        late = self.session.state.expire(recv_s) if self._begun else []
        if late:
            self._step(late + self._figures.follow(late), ())
        return self.session.take()

    def call(self, name: str, by: str = "") -> list[Entry]:
        """Enter something said that no signal shows; before the first frame it waits for that.

        Args:
            name: The call's id in the pack.
            by: Who entered it.

        Raises:
            InputFaults: The pack has no such call.
        """
        entered = CallEntered(self.session.sim_s, known_call(self.session.pack, name), by)
        if not self._begun:
            self._early.append(entered)
            return []
        self._step((), (entered,))
        return self.session.take()

    def retract(self, call: str, by: str = "") -> list[Entry]:
        """Take the latest making of a call back, as if it had not been made.

        A phase that was entered is not left, a notice that was given is not unsaid, and what conditions remember of
        the time in between (a hold, a rise) stays.

        Args:
            call: The call's id in the pack.
            by: Who takes it back.

        Raises:
            InputFaults: The pack has no such call, or it was not made.
        """
        name = known_call(self.session.pack, call, "retract")
        if not self._begun:
            return self._forget_early(name)
        spoken = self._calls.take(name)
        self.session.say(CallRetracted(self.session.sim_s, name, by, spoken.sim_s))
        changed = self.session.monitors.take_back(name, unheard=self._calls.none)
        self._judge(changed, set(), everywhere=False, back=spoken)
        self.strips.step(changed)
        return self.session.take()

    def _forget_early(self, name: str) -> list[Entry]:
        """Take back a call that still waits for the first frame."""
        waiting = [call.call for call in self._early]
        if name not in waiting:
            raise not_called(name, dict.fromkeys(waiting))
        del self._early[len(waiting) - 1 - waiting[::-1].index(name)]
        return []

    def confirm(self, item: str, seat: str = "") -> list[Entry]:
        """Take the crew's word for something that no signal can show.

        Args:
            item: The whole id of an item with `confirm`.
            seat: Who says it; '' for the seat that owns the item.

        Raises:
            InputFaults: No such item or seat, or a signal shows the item: so, not said.
        """
        state = confirmable(self.items, item)
        self.items.confirm(state, confirming_seat(self.session.pack, state, seat))
        return self._by_hand([item])

    def excuse(self, item: str, by: str, reason: str) -> list[Entry]:
        """Let an item not count on this flight; what was found on it is closed.

        Args:
            item: Its whole id.
            by: Who excuses it.
            reason: Why; it must say something.

        Raises:
            InputFaults: No such item, or no reason.
        """
        state = known_item(self.items, item, "excuse")
        self.items.excuse(state, given_reason(item, by, reason))
        self.needs.excused(state)
        self._order.excused(state)
        return self._by_hand([item])

    @property
    def papers(self) -> dict[str, Value]:
        """The trip sheet's values as they now hold, by signal name."""
        return dict(self._papers)

    def amend(self, values: Mapping[str, Value], by: str = "") -> list[Entry]:
        """Take new papers (another runway, the next sector); what reads them is unverified again.

        Args:
            values: By signal name ("trip.v1"), in the book's units; those that stay need not be said.
            by: Who brings them.

        Raises:
            InputFaults: Not a name of the trip sheet.
        """
        names = [known_paper(self.session.pack, name) for name in values]
        self._papers.update(values)
        if not self._begun:
            return []
        self.session.say(PapersAmended(self.session.sim_s, tuple(names), by))
        samples = [s for n in names for s in self.session.state.set(n, values[n], self.session.sim_s)]
        samples += self._figures.follow(samples)
        readers = self.items.readers()
        read = {item for sample in samples for item in readers.get(sample.name, ())}
        self._step(samples, (), touched=set(self.items.unverify(read)) | read)
        return self.session.take()

    def picture(self) -> Picture:
        """How everything stands now, for screens; it does not change afterwards."""
        return take_picture(self)

    def finding_open(self, item: str) -> bool:
        """Whether something found on this item is still open."""
        return any(self._ledger.open_on(item, family) for family in Family)

    def _begin(self, frame: Frame) -> None:
        """Begin at the first frame, or anew where the simulator's clock jumped back."""
        session = self.session
        last_s = session.sim_s
        session.state.restart(frame.epoch)
        session.sim_s = frame.sim_s
        if self._begun:
            session.monitors.restart()
            session.timers.clear()
            self.gates.forget()
            self._ledger.let_go()
            self._teller.begin()
            self._traces.forget()
            self.items.begin()
            self.watches.begin()
            session.say(MonitorsReset(frame.sim_s, frame.epoch))
            self.strips.let_go(last_s)
        for state in self.items.states.values():
            state.since_s = frame.sim_s
        for name, value in self._papers.items():
            session.state.set(name, value, frame.sim_s)
        self._begun = True

    def _by_hand(self, ids: Collection[str]) -> list[Entry]:
        """Judge what somebody said about items."""
        if self._begun:
            self._step((), (), touched=ids)
        return self.session.take()

    def _step(
        self,
        samples: Sequence[Sample],
        calls: Sequence[CallEntered],
        *,
        touched: Collection[str] = (),
        everywhere: bool = False,
    ) -> None:
        """One step at the state's present time."""
        session = self.session
        session.sim_s = sim_s = session.state.sim_s
        changed = session.monitors.advance(sim_s, samples, [call.call for call in calls])
        self._calls.begin(calls)
        touched = self._traces.look(samples) | set(touched)
        for call in calls:
            session.say(CallEntered(sim_s, call.call, call.by))
        if everywhere:
            touched = set(self.items.states)
            changed = set(conditions_of(session.pack))
        before = Before(self.gates.cues, len(self._ledger.record)) if calls else None
        did = Did((), ())
        if changed or touched or session.timers.next_s <= sim_s:
            did = self._judge(changed, touched, everywhere=everywhere)
        if changed:
            self._callouts.look(changed, everywhere=everywhere)
            self._times.look(changed, everywhere=everywhere)
        if changed or self.strips.live:
            self.strips.step(changed)
        if before is not None:
            self._calls.note(calls, did, before)

    def _judge(
        self, changed: set[str], touched: set[str], *, everywhere: bool, back: Spoken | None = None
    ) -> Did:
        """Take a step through all the parts, in the order of the module's head; `back` is a call taken back."""
        undone = self._retraction.items(back) if back else []
        changes = [*undone, *self.items.update(changed | touched)]
        for change in changes:
            self.needs.changed(change)
        self._order.look(changes, changed)
        if everywhere:
            self.gates.begin()
        if back:
            self._retraction.watches(back)
        turns = self.watches.look(changed, everywhere=everywhere)
        cued = set(self.session.cued)
        self._pass_gates(changed, everywhere=everywhere)
        if back:
            self._retraction.gates(back, cued, changed)
        for key in self.session.timers.due(self.session.sim_s):
            self._due(*key)
        self._teller.flush(changed)
        return Did(changes, turns)

    def _pass_gates(self, changed: set[str], *, everywhere: bool) -> None:
        """Cues and entries, and what a new phase brings with it."""
        phase = self.session.phase
        reopened = self.gates.look(changed, everywhere=everywhere)
        for change in self.items.update(reopened):
            self.needs.changed(change)
        if self.session.phase != phase:
            self.watches.look((), everywhere=True)

    def _due(self, what: str, gate: str, item: str) -> None:
        """Do what a timer was set for."""
        kind, _, family = what.partition(" ")
        match kind:
            case "hold":
                self.needs.due_hold(gate, item)
            case "clear":
                self.needs.due_clear(item)
            case "watch":
                self.watches.due(item)
            case "done":
                self._order.due(Family(family), item)
            case "tell":
                self._teller.due(family, gate, item)

    def _sentence(self, about: About, finding: Finding) -> str:
        """Why a finding is still open, as it stands now; at its opening that is the finding's own sentence."""
        if about.family is Family.WATCH:
            return self.session.monitors.explain(expect_id(about.item)).sentence
        state = self.items.states.get(about.item)
        if about.family is not Family.NEED or state is None or state.truth is True:
            return finding.sentence
        return self.items.reason(state).sentence
