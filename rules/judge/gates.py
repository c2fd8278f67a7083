"""Phases and gates: where the flight is, which gates are ahead, which are cued, which is entered.

An entry that was never seen false since the monitors began was not seen happening: the bridge has joined later, or the
aeroplane was put elsewhere.  Such an entry is recognised, not judged: the phase changes, nothing is found.

Takes: the ids whose truth changed.  Gives: GateCued, GateEntered, PhaseEntered, and findings through the needs.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import Enum, auto

from rules.judge.condition_ids import cue_id, entry_id
from rules.judge.context import JudgeContext
from rules.judge.events import GateCued, GateEntered, PhaseEntered
from rules.judge.findings import FindingLog
from rules.judge.gate_requirements import GateRequirements
from rules.judge.items import Items
from rules.judge.notices import NoticeScheduler
from rules.judge.signal_activity import SignalActivity
from rules.packs.model import Gate


class EntryState(Enum):
    """What is known of an entry."""

    UNSEEN = auto()  # never false since the monitors began
    ARMED = auto()  # seen false: its next becoming true is an entry
    ENTERED = auto()  # entered, and not false since


@dataclass(slots=True)
class GateState:
    """One gate now; `cued_s` is when its cue was given, None while it waits."""

    gate: Gate
    entry_state: EntryState = EntryState.UNSEEN
    cued_s: float | None = None


class Gates:
    """All gates, in the pack's order."""

    def __init__(
        self,
        context: JudgeContext,
        items: Items,
        requirements: GateRequirements,
        finding_log: FindingLog,
        notices: NoticeScheduler,
        activity: SignalActivity,
    ) -> None:
        """No phase yet, so no gate in play."""
        self._context = context
        self._items = items
        self._requirements = requirements
        self._finding_log = finding_log
        self._notices = notices
        self._activity = activity
        self.states = {gate.id: GateState(gate) for gate in context.pack.gates}
        self._condition_ids = frozenset(i for gate in self.states for i in (cue_id(gate), entry_id(gate)))
        self._phase_index = {phase.id: n for n, phase in enumerate(context.pack.phases)}

    def reset(self) -> None:
        """The monitors begin anew: nothing is cued, in play or seen."""
        for state in self.states.values():
            state.entry_state, state.cued_s = EntryState.UNSEEN, None
        self._context.active_gates.clear()
        self._context.cued_gates.clear()
        self._context.phase_of_call.clear()

    def enter_first_phase(self) -> None:
        """Enter the first phase; which one it really is, the next look recognises."""
        self._change_phase(self._context.pack.phases[0].id)

    @property
    def cued_since(self) -> dict[str, float]:
        """Per cued gate since when it is."""
        return {gate: state.cued_s for gate, state in self.states.items() if state.cued_s is not None}

    def undo_call(self, cued_before: Mapping[str, float], changed: Collection[str]) -> None:
        """A call is taken back: what it had cued waits, and what is cued as before is so since then.

        Args:
            cued_before: What was cued before the call, and since when.
            changed: The conditions whose truth the retraction has changed.
        """
        for gate, state in self.states.items():
            name = cue_id(gate)
            if state.cued_s is not None and gate in cued_before:
                state.cued_s = cued_before[gate]
            elif state.cued_s is not None and name in changed and not self._context.monitors.truth(name):
                self._uncue(state)

    def step(self, changed: Collection[str], *, full: bool = False) -> list[str]:
        """Take in a step: cues first, then entries, until no gate is entered any more.

        Returns:
            Items whose confirmation or call is void because the flight came back to an earlier phase.
        """
        if not full and self._condition_ids.isdisjoint(changed):
            return []
        self._arm_entries()
        reopened: list[str] = []
        passed: set[str] = set()
        while (entered := self._next_entered(passed)) is not None:
            passed.add(entered.gate.id)
            reopened += self._enter(entered)
        return reopened

    def _arm_entries(self) -> None:
        """Note which entries are not so: each may be entered (again)."""
        for state in self.states.values():
            if self._context.monitors.truth(entry_id(state.gate.id)) is False:
                state.entry_state = EntryState.ARMED

    def _next_entered(self, passed: Collection[str]) -> GateState | None:
        """Cue what is to be cued, and find the first gate that is entered; none twice in a step."""
        ahead = [s for s in self.states.values() if s.gate.id in self._context.active_gates]
        recognised = next((s for s in ahead if s.gate.id not in passed and self._entered_unseen(s)), None)
        if recognised is not None:
            return recognised
        for state in ahead:
            self._update_cue(state)
        return next((s for s in ahead if s.gate.id not in passed and self._just_entered(s)), None)

    def _entered_unseen(self, state: GateState) -> bool:
        """Whether its entry is so, was never seen false, and leads forward."""
        here, there = self._phase_index[self._context.phase], self._phase_index[state.gate.phase]
        return state.entry_state is EntryState.UNSEEN and there > here and self._entry_true(state)

    def _just_entered(self, state: GateState) -> bool:
        """Whether its entry has become so."""
        return state.entry_state is EntryState.ARMED and self._entry_true(state)

    def _entry_true(self, state: GateState) -> bool:
        """Whether its entry is so."""
        return self._context.monitors.truth(entry_id(state.gate.id)) is True

    def _update_cue(self, state: GateState) -> None:
        """Let the gate be cued or wait; a cue that cannot be told stays as it was."""
        truth = self._context.monitors.truth(cue_id(state.gate.id))
        if truth and state.cued_s is None:
            self._cue(state)
        elif truth is False and state.cued_s is not None:
            self._uncue(state)

    def _cue(self, state: GateState) -> None:
        """The crew is about to go."""
        gate, now_s = state.gate, self._context.sim_s
        state.cued_s = now_s
        self._context.cued_gates.add(gate.id)
        self._context.emit(GateCued(now_s, gate.id, self._requirements.cue(gate)))
        self._notices.gate_cued_again(gate.id)

    def _uncue(self, state: GateState) -> None:
        """The gate waits again, or is out of play."""
        state.cued_s = None
        self._context.cued_gates.discard(state.gate.id)
        self._requirements.uncue(state.gate)

    def _enter(self, state: GateState) -> list[str]:
        """They went."""
        judged = state.entry_state is EntryState.ARMED
        state.entry_state = EntryState.ENTERED
        if judged:
            if state.cued_s is None:
                self._cue(state)
            carried = self._requirements.enter(state.gate)
            self._context.emit(GateEntered(self._context.sim_s, state.gate.id, carried))
        self._uncue(state)
        self._context.active_gates.discard(state.gate.id)
        return self._change_phase(state.gate.phase)

    def _change_phase(self, phase: str) -> list[str]:
        """The phase changes: some gates come into play, some go out of it."""
        session, left = self._context, self._context.phase
        back = left != "" and self._phase_index[phase] < self._phase_index[left]
        void = self._void_calls(phase) if back else set()
        session.phase = phase
        session.phase_changes += 1
        session.emit(PhaseEntered(session.sim_s, phase, left))
        new: list[Gate] = []
        for state in self.states.values():
            if phase not in state.gate.leaves:
                self._uncue(state)
                session.active_gates.discard(state.gate.id)
            elif state.gate.id not in session.active_gates:
                new.append(state.gate)
                self._activate(state.gate)
        ahead = [
            s.gate for s in self.states.values() if self._phase_index[s.gate.phase] > self._phase_index[phase]
        ]
        return [*self._unverify([*new, *ahead]), *void] if back else []

    def _void_calls(self, phase: str) -> set[str]:
        """The flight came back: what was called from that phase on is to be called anew."""
        session = self._context
        void = [
            call
            for call, made in session.phase_of_call.items()
            if self._phase_index[made] >= self._phase_index[phase]
        ]
        for call in void:
            del session.phase_of_call[call]
        changed = session.monitors.clear_calls(void)
        self._arm_entries()
        return changed

    def _activate(self, gate: Gate) -> None:
        """The gate comes into play; what it remembers begins here."""
        self._context.active_gates.add(gate.id)
        self._requirements.active_since_s[gate.id] = self._context.sim_s
        self._finding_log.start_round(gate.id)

    def _unverify(self, gates: list[Gate]) -> list[str]:
        """The flight came back: what these gates need is to be done anew."""
        self._activity.rebase(self._context.state.values)
        return self._items.unverify(item for gate in gates for item in gate.needs)
