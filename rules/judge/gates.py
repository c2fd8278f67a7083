"""Phases and gates: where the flight is, which gates are ahead, which are cued, which is entered.

An entry that was never seen false since the monitors began was not seen happening: the bridge has joined later, or the
aeroplane was put elsewhere.  Such an entry is recognised, not judged: the phase changes, nothing is found.

Takes: the ids whose truth changed.  Gives: GateCued, GateEntered, PhaseEntered, and findings through the needs.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import Enum, auto

from rules.judge.entries import GateCued, GateEntered, PhaseEntered
from rules.judge.findings import Ledger
from rules.judge.items import Items
from rules.judge.needs import Needs
from rules.judge.notices import Teller
from rules.judge.session import Session, cue_id, entry_id
from rules.judge.traces import Traces
from rules.packs.model import Gate


class Latch(Enum):
    """What is known of an entry."""

    UNSEEN = auto()  # never false since the monitors began
    READY = auto()  # seen false: its next becoming true is an entry
    SPENT = auto()  # entered, and not false since


@dataclass(slots=True)
class GateState:
    """One gate now; `cued_s` is when its cue was given, None while it waits."""

    gate: Gate
    latch: Latch = Latch.UNSEEN
    cued_s: float | None = None


class Gates:
    """All gates, in the pack's order."""

    def __init__(
        self, session: Session, items: Items, needs: Needs, ledger: Ledger, teller: Teller, traces: Traces
    ) -> None:
        """No phase yet, so no gate in play."""
        self._session = session
        self._items = items
        self._needs = needs
        self._ledger = ledger
        self._teller = teller
        self._traces = traces
        self.states = {gate.id: GateState(gate) for gate in session.pack.gates}
        self._ids = frozenset(i for gate in self.states for i in (cue_id(gate), entry_id(gate)))
        self._order = {phase.id: n for n, phase in enumerate(session.pack.phases)}

    def forget(self) -> None:
        """The monitors begin anew: nothing is cued, in play or seen."""
        for state in self.states.values():
            state.latch, state.cued_s = Latch.UNSEEN, None
        self._session.in_play.clear()
        self._session.cued.clear()
        self._session.called.clear()

    def begin(self) -> None:
        """Enter the first phase; which one it really is, the next look recognises."""
        self._move(self._session.pack.phases[0].id)

    @property
    def cues(self) -> dict[str, float]:
        """Per cued gate since when it is."""
        return {gate: state.cued_s for gate, state in self.states.items() if state.cued_s is not None}

    def take_back(self, cues: Mapping[str, float], changed: Collection[str]) -> None:
        """A call is taken back: what it had cued waits, and what is cued as before is so since then.

        Args:
            cues: What was cued before the call, and since when.
            changed: The conditions whose truth the retraction has changed.
        """
        for gate, state in self.states.items():
            name = cue_id(gate)
            if state.cued_s is not None and gate in cues:
                state.cued_s = cues[gate]
            elif state.cued_s is not None and name in changed and not self._session.monitors.truth(name):
                self._withdraw(state)

    def look(self, changed: Collection[str], *, everywhere: bool = False) -> list[str]:
        """Take in a step: cues first, then entries, until no gate is entered any more.

        Returns:
            Items whose confirmation or call is void because the flight came back to an earlier phase.
        """
        if not everywhere and self._ids.isdisjoint(changed):
            return []
        self._see_false()
        reopened: list[str] = []
        passed: set[str] = set()
        while (entered := self._next(passed)) is not None:
            passed.add(entered.gate.id)
            reopened += self._enter(entered)
        return reopened

    def _see_false(self) -> None:
        """Note which entries are not so: each may be entered (again)."""
        for state in self.states.values():
            if self._session.monitors.truth(entry_id(state.gate.id)) is False:
                state.latch = Latch.READY

    def _next(self, passed: Collection[str]) -> GateState | None:
        """Cue what is to be cued, and find the first gate that is entered; none twice in a step."""
        ahead = [s for s in self.states.values() if s.gate.id in self._session.in_play]
        recognised = next((s for s in ahead if s.gate.id not in passed and self._recognised(s)), None)
        if recognised is not None:
            return recognised
        for state in ahead:
            self._look_at_cue(state)
        return next((s for s in ahead if s.gate.id not in passed and self._went(s)), None)

    def _recognised(self, state: GateState) -> bool:
        """Whether its entry is so, was never seen false, and leads forward."""
        here, there = self._order[self._session.phase], self._order[state.gate.phase]
        return state.latch is Latch.UNSEEN and there > here and self._entry(state)

    def _went(self, state: GateState) -> bool:
        """Whether its entry has become so."""
        return state.latch is Latch.READY and self._entry(state)

    def _entry(self, state: GateState) -> bool:
        """Whether its entry is so."""
        return self._session.monitors.truth(entry_id(state.gate.id)) is True

    def _look_at_cue(self, state: GateState) -> None:
        """Let the gate be cued or wait; a cue that cannot be told stays as it was."""
        truth = self._session.monitors.truth(cue_id(state.gate.id))
        if truth and state.cued_s is None:
            self._cue(state)
        elif truth is False and state.cued_s is not None:
            self._withdraw(state)

    def _cue(self, state: GateState) -> None:
        """The crew is about to go."""
        gate, now_s = state.gate, self._session.sim_s
        state.cued_s = now_s
        self._session.cued.add(gate.id)
        self._session.say(GateCued(now_s, gate.id, self._needs.cue(gate)))
        self._teller.resume(gate.id)

    def _withdraw(self, state: GateState) -> None:
        """The gate waits again, or is out of play."""
        state.cued_s = None
        self._session.cued.discard(state.gate.id)
        self._needs.withdraw(state.gate)

    def _enter(self, state: GateState) -> list[str]:
        """They went."""
        judged = state.latch is Latch.READY
        state.latch = Latch.SPENT
        if judged:
            if state.cued_s is None:
                self._cue(state)
            carried = self._needs.enter(state.gate)
            self._session.say(GateEntered(self._session.sim_s, state.gate.id, carried))
        self._withdraw(state)
        self._session.in_play.discard(state.gate.id)
        return self._move(state.gate.phase)

    def _move(self, phase: str) -> list[str]:
        """The phase changes: some gates come into play, some go out of it."""
        session, left = self._session, self._session.phase
        back = left != "" and self._order[phase] < self._order[left]
        void = self._forget_calls(phase) if back else set()
        session.phase = phase
        session.moves += 1
        session.say(PhaseEntered(session.sim_s, phase, left))
        new: list[Gate] = []
        for state in self.states.values():
            if phase not in state.gate.leaves:
                self._withdraw(state)
                session.in_play.discard(state.gate.id)
            elif state.gate.id not in session.in_play:
                new.append(state.gate)
                self._open_play(state.gate)
        ahead = [s.gate for s in self.states.values() if self._order[s.gate.phase] > self._order[phase]]
        return [*self._unverify([*new, *ahead]), *void] if back else []

    def _forget_calls(self, phase: str) -> set[str]:
        """The flight came back: what was called from that phase on is to be called anew."""
        session = self._session
        void = [call for call, made in session.called.items() if self._order[made] >= self._order[phase]]
        for call in void:
            del session.called[call]
        changed = session.monitors.forget_calls(void)
        self._see_false()
        return changed

    def _open_play(self, gate: Gate) -> None:
        """The gate comes into play; what it remembers begins here."""
        self._session.in_play.add(gate.id)
        self._needs.since_s[gate.id] = self._session.sim_s
        self._ledger.renew(gate.id)

    def _unverify(self, gates: list[Gate]) -> list[str]:
        """The flight came back: what these gates need is to be done anew."""
        self._traces.settle(self._session.state.values)
        return self._items.unverify(item for gate in gates for item in gate.needs)
