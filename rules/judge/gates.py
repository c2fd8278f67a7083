"""Phases and gates: the present phase, and which gates are active, cued and entered.

An entry that was never false since the monitors started was not seen to happen: the bridge has connected late, or the
aeroplane was repositioned.  Such an entry changes the phase, but the gate is not judged and nothing is found.  False means
false by its visible parts (`visible_truth.py`), so that a gate that also waits for a call is judged where nobody enters
calls.  When a hidden part appears it may have been true before, so the entry has to be seen false once more; a call that is
made has not been made before.  Of several such entries in one step only the last phase is logged: nobody saw the others.

An entry that is unknown and then true may have happened at any time in between: its gate is judged with doubt.

Takes: the ids of conditions whose truth changed.  Gives: `GateCued`, `GateEntered` and `PhaseEntered` events, and
findings through the gate requirements.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import Enum, auto

from rules.judge.condition_ids import cue_id, entry_id, part_ids
from rules.judge.context import JudgeContext
from rules.judge.events import GateCued, GateEntered, PhaseEntered
from rules.judge.findings import FindingLog
from rules.judge.gate_requirements import GateRequirements
from rules.judge.items import Items
from rules.judge.notices import NoticeScheduler
from rules.judge.signal_activity import SignalActivity
from rules.judge.visible_truth import VisibleParts
from rules.language.checked_tree import Condition
from rules.language.traversal import limited_look_back_s
from rules.packs.condition_facts import calls_awaited, signals_read
from rules.packs.model import Gate
from rules.signals.number_format import format_missing_data


class EntryState(Enum):
    """Knowledge of an entry condition."""

    UNSEEN = auto()  # never false since the monitors started, or since it was true and processed
    ARMED = auto()  # seen false: the gate is entered when it becomes true
    ENTERED = auto()  # true and processed; still true


@dataclass(slots=True)
class GateState:
    """State of one gate.

    `look_back_s` is the longest time over which its entry looks back, but for parts that look back without a limit.  `cued_s` is
    the time of its cue, None without a cue.  `hidden` are the parts of its entry that were hidden when it was
    armed.  `doubt` says why it has not been known since whether it was entered, '' while that is known.
    """

    gate: Gate
    conditions: frozenset[str]
    look_back_s: float
    entry_state: EntryState = EntryState.UNSEEN
    cued_s: float | None = None
    hidden: frozenset[Condition] = frozenset()
    doubt: str = ""


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
        """Start without a phase, so that no gate is active."""
        self._context = context
        self._items = items
        self._requirements = requirements
        self._finding_log = finding_log
        self._notices = notices
        self._activity = activity
        self._visible = VisibleParts(context)
        self.states = {
            gate.id: GateState(gate, _condition_ids(gate), limited_look_back_s(gate.entry))
            for gate in context.pack.gates
        }
        self._condition_ids = frozenset[str]().union(*(state.conditions for state in self.states.values()))
        self._phase_index = {phase.id: n for n, phase in enumerate(context.pack.phases)}
        self._unlogged_previous: str | None = None
        self.recognised = False

    def reset(self) -> None:
        """Forget all states after a restart of the monitors."""
        for state in self.states.values():
            state.entry_state, state.cued_s = EntryState.UNSEEN, None
            state.hidden, state.doubt = frozenset(), ""
        self._context.active_gates.clear()
        self._context.cued_gates.clear()
        self._context.phase_of_call.clear()

    def enter_first_phase(self) -> None:
        """Enter the first phase; the next evaluation finds the actual one."""
        self._context.unseen_phase = ""
        self._change_phase(self._context.pack.phases[0].id, seen=False)

    def is_past_first_phase(self) -> bool:
        """True if an entry that leads from the first phase to a later one is true."""
        first = self._context.pack.phases[0].id
        leading = (s for s in self.states.values() if first in s.gate.leaves and s.gate.phase != first)
        return any(map(self._entry_true, leading))

    @property
    def cued_since(self) -> dict[str, float]:
        """Time of the cue of each cued gate."""
        return {gate: state.cued_s for gate, state in self.states.items() if state.cued_s is not None}

    def may_be_passed(self, gate: str) -> bool:
        """True if the flight may have passed a gate, which a gap that has not left the look-back of its entry leaves open.

        What the gate needs is no error then: after it the crew may do what would be one before it.
        """
        state, context = self.states[gate], self._context
        if context.sim_s >= context.gap_end_s + state.look_back_s:
            return False
        return self._visible.truth(state.gate.entry).truth is None

    def undo_call(self, cued_before: Mapping[str, float], changed: Collection[str]) -> None:
        """Restore the cues of before a call that is undone.

        Args:
            cued_before: Gates that were cued before the call, with the times of their cues.
            changed: Conditions whose truth the undo changed.
        """
        for gate, state in self.states.items():
            name = cue_id(gate)
            if state.cued_s is not None and gate in cued_before:
                state.cued_s = cued_before[gate]
            elif state.cued_s is not None and name in changed and not self._context.monitors.truth(name):
                self._uncue(state)

    def step(self, changed: Collection[str], *, full: bool = False) -> list[str]:
        """Evaluate cues first, then entries, until no further gate is entered; `recognised` is True if one was not seen.

        Returns:
            Items whose confirmation or call is void because the flight went back to an earlier phase.
        """
        self.recognised = False
        if not full and self._condition_ids.isdisjoint(changed):
            return []
        self._arm_entries(changed)
        reopened: list[str] = []
        passed: set[str] = set()
        while (entered := self._next_entered(passed)) is not None:
            passed.add(entered.gate.id)
            reopened += self._enter(entered)
        self._log_phase()
        return reopened

    def _arm_entries(self, changed: Collection[str] | None = None) -> None:
        """Arm each gate whose entry is false, so that it can be entered (again).

        Args:
            changed: Conditions whose truth changed; None to look at every gate.
        """
        for state in self.states.values():
            if changed is None or not state.conditions.isdisjoint(changed):
                self._arm_entry(state)

    def _arm_entry(self, state: GateState) -> None:
        """Process the truth of an entry, by its visible parts."""
        truth, hidden = self._visible.truth(state.gate.entry)
        if truth is False:
            state.entry_state, state.hidden, state.doubt = EntryState.ARMED, hidden, ""
        elif self._has_appeared(state.hidden):
            state.entry_state, state.hidden, state.doubt = EntryState.UNSEEN, frozenset(), ""
        elif truth is None and not state.doubt:
            gap_s = self._context.gap_s
            state.doubt = format_missing_data(gap_s) if gap_s else "not known when this gate was entered"

    def _has_appeared(self, hidden: Collection[Condition]) -> bool:
        """True if the signals of a part that was hidden were received since."""
        return any(
            signals_read(part) and not self._visible.is_hidden(part) and not calls_awaited(part)
            for part in hidden
        )

    def _next_entered(self, passed: Collection[str]) -> GateState | None:
        """Update the cues and find the first gate that is entered; each at most once in a step."""
        ahead = [s for s in self.states.values() if s.gate.id in self._context.active_gates]
        recognised = next((s for s in ahead if s.gate.id not in passed and self._entered_unseen(s)), None)
        if recognised is not None:
            return recognised
        for state in ahead:
            self._update_cue(state)
        return next((s for s in ahead if s.gate.id not in passed and self._just_entered(s)), None)

    def _entered_unseen(self, state: GateState) -> bool:
        """True if the entry was not seen to happen, is true, and leads to a later phase."""
        here, there = self._phase_index[self._context.phase], self._phase_index[state.gate.phase]
        return state.entry_state is EntryState.UNSEEN and there > here and self._entry_true(state)

    def _just_entered(self, state: GateState) -> bool:
        """True if the entry has become true."""
        return state.entry_state is EntryState.ARMED and self._entry_true(state)

    def _entry_true(self, state: GateState) -> bool:
        """True if the entry is true."""
        return self._context.monitors.truth(entry_id(state.gate.id)) is True

    def _update_cue(self, state: GateState) -> None:
        """Cue a gate or end its cue; an unknown cue changes nothing."""
        truth = self._context.monitors.truth(cue_id(state.gate.id))
        if truth and state.cued_s is None:
            self._cue(state)
            self._notices.gate_cued(state.gate.id, state.gate.needs)
        elif truth is False and state.cued_s is not None:
            self._uncue(state)

    def _cue(self, state: GateState, *, entering: bool = False) -> None:
        """Cue a gate, at its entry where it had no cue."""
        gate, now_s = state.gate, self._context.sim_s
        state.cued_s = now_s
        self._context.cued_gates.add(gate.id)
        self._requirements.cue(gate)
        counts = self._requirements.counts(gate, entering=entering)
        self._context.emit(
            GateCued(now_s, gate.id, counts.open, counts.needs, counts.judged, counts.other_findings)
        )
        self._notices.gate_cued_again(gate.id)

    def _uncue(self, state: GateState) -> None:
        """End the cue of a gate."""
        state.cued_s = None
        self._context.cued_gates.discard(state.gate.id)
        self._requirements.uncue(state.gate)

    def _enter(self, state: GateState) -> list[str]:
        """Enter a gate and its phase."""
        judged = state.entry_state is EntryState.ARMED
        state.entry_state = EntryState.ENTERED
        if judged:
            self._log_phase()
            if state.cued_s is None:
                self._cue(state, entering=True)
            gap_s = self._context.gap_s
            self._emit_entry(state.gate, format_missing_data(gap_s) if gap_s else state.doubt)
        else:
            self.recognised, self._context.unseen_phase = True, state.gate.phase
        state.hidden, state.doubt = frozenset(), ""
        self._uncue(state)
        self._context.active_gates.discard(state.gate.id)
        return self._change_phase(state.gate.phase, seen=judged)

    def _emit_entry(self, gate: Gate, doubt: str) -> None:
        """Judge the needs of a gate that is entered, and emit its entry."""
        carried = self._requirements.enter(gate, doubt)
        counts = self._requirements.counts(gate, entering=True)
        self._context.emit(
            GateEntered(
                self._context.sim_s,
                gate.id,
                counts.open,
                counts.needs,
                counts.judged,
                counts.other_findings,
                carried,
            )
        )

    def _log_phase(self) -> None:
        """Emit the present phase, if the flight was found in it without its entry being seen."""
        previous, self._unlogged_previous = self._unlogged_previous, None
        if previous is not None:
            self._context.emit(PhaseEntered(self._context.sim_s, self._context.phase, previous))

    def _change_phase(self, phase: str, *, seen: bool) -> list[str]:
        """Change the phase, with the gates that are active in it; one whose entry was not seen is logged later."""
        context, previous = self._context, self._context.phase
        back = previous != "" and self._phase_index[phase] < self._phase_index[previous]
        void = self._void_calls(phase) if back else set()
        context.phase = phase
        context.phase_changes += 1
        if self._unlogged_previous is None:
            self._unlogged_previous = previous
        if seen:
            self._log_phase()
        new: list[Gate] = []
        for state in self.states.values():
            if phase not in state.gate.leaves:
                self._uncue(state)
                context.active_gates.discard(state.gate.id)
            elif state.gate.id not in context.active_gates:
                new.append(state.gate)
                self._activate(state.gate)
        self._requirements.close_past()
        ahead = [
            s.gate for s in self.states.values() if self._phase_index[s.gate.phase] > self._phase_index[phase]
        ]
        return [*self._unverify([*new, *ahead]), *void] if back else []

    def _void_calls(self, phase: str) -> set[str]:
        """Void the calls made in the phase that the flight went back to, or in later ones."""
        context = self._context
        void = [
            call
            for call, phase_made in context.phase_of_call.items()
            if self._phase_index[phase_made] >= self._phase_index[phase]
        ]
        for call in void:
            del context.phase_of_call[call]
        context.call_changes += 1
        changed = context.monitors.clear_calls(void)
        self._arm_entries()
        return changed

    def _activate(self, gate: Gate) -> None:
        """Make a gate active, with a new round of findings."""
        self._context.active_gates.add(gate.id)
        self._requirements.active_since_s[gate.id] = self._context.sim_s
        self._finding_log.start_round(gate.id)
        self._notices.gate_active(gate.id)

    def _unverify(self, gates: list[Gate]) -> list[str]:
        """Require the needs of these gates again, since the flight went back."""
        self._activity.rebase(self._context.state.values)
        return self._items.unverify(item for gate in gates for item in gate.needs)


def _condition_ids(gate: Gate) -> frozenset[str]:
    """Ids of the conditions of a gate, and of the parts of its entry."""
    entry = entry_id(gate.id)
    return frozenset((cue_id(gate.id), entry, *part_ids(entry, gate.entry)))
