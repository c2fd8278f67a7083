"""Gate requirements: needs that a cued gate finds open, and their correction.

A need that is not met at the cue, or is lost after it, becomes a finding once it has been open for the item's hold; at
the entry it becomes one at once.  A change in the same sample as the entry counts in the crew's favour.

Takes: cues, entries, changes of items.  Gives: findings in the finding log.
"""

from __future__ import annotations

from rules.judge.context import JudgeContext
from rules.judge.events import Finding
from rules.judge.findings import FindingKey, FindingLog, RuleKind
from rules.judge.gate_counts import OPEN_STATUSES, GateCounts, count_needs, count_others
from rules.judge.items import ItemChange, Items, ItemState, UnknownReason
from rules.judge.signal_activity import SignalActivity
from rules.judge.timers import LOOK_AGAIN_S
from rules.language.truth import Reason, Truth
from rules.packs.model import FindingKind, Gate, Item, Level, declared_id

# A need from the cue to the entry, with hold 2 s and clear time 2 s (F: the finding opens, C: it closes):
#
#     time s        0     1     2     3     4     5     6
#     cue           on    on    on    on    on    on    entry
#     item a        open  open  F     open  met   C           C with the time at which it was met, 4 s
#     item b        open  open  F     met   open  open        met for less than the clear time: stays one finding
#     item c        met   met   met   met   met   open  F     at the entry a need opens without its hold
#     item d        met   met   met   met   met   met   open  changed in the sample of the entry: no finding
#
# Item d: one frame brings both changes, so their order is unknown, and the crew gets the benefit.


class GateRequirements:
    """The needs of all gates."""

    def __init__(
        self, context: JudgeContext, items: Items, activity: SignalActivity, finding_log: FindingLog
    ) -> None:
        self._context = context
        self._items = items
        self._activity = activity
        self._finding_log = finding_log
        self._gates_of: dict[str, list[str]] = {}
        self._phase_index = {phase.id: n for n, phase in enumerate(context.pack.phases)}
        self.active_since_s: dict[str, float] = {}
        for gate in context.pack.gates:
            for item in gate.needs:
                self._gates_of.setdefault(item, []).append(gate.id)

    def states(self, gate: Gate) -> list[ItemState]:
        """Needs of a gate, in its order."""
        return [self._items.states[item] for item in dict.fromkeys(gate.needs)]

    def gates_of(self, item: str) -> list[str]:
        """Gates that need an item, in the pack's order."""
        return self._gates_of.get(item, [])

    def cue(self, gate: Gate) -> None:
        """Start the holds of the open needs of a gate that is cued."""
        for state in self.states(gate):
            self._start_hold(gate.id, state)

    def uncue(self, gate: Gate) -> None:
        """Stop the holds of a gate whose cue is false or that is no longer active; its findings stay."""
        for item in gate.needs:
            self._context.timers.cancel(("hold", gate.id, item))

    def counts(self, gate: Gate, *, entering: bool = False) -> GateCounts:
        """Count the needs of a gate that is cued or entered: every unmet one is open, whatever it waits for.

        Args:
            gate: The gate.
            entering: True at its entry, where a need that is lost in the same sample counts as met.
        """
        states = self.states(gate)
        unmet = [state for state in states if state.status in OPEN_STATUSES]
        others = count_others(self._finding_log.open_in_order(), {state.id for state in unmet})
        counts = count_needs(states, other_findings=others)
        return counts._replace(open=counts.open - sum(map(self._lost_now, unmet))) if entering else counts

    def _lost_now(self, state: ItemState) -> bool:
        """True if an item that was met was lost in this very sample: at an entry it counts as met."""
        return state.since_s == self._context.sim_s and state.previous_truth is True

    def item_changed(self, change: ItemChange) -> None:
        """Process a change of an item: start its hold where it is needed, or its clear time where it was found open."""
        state, item = change.state, change.state.item
        found = self._finding_log.open_for(item.id, RuleKind.NEED)
        if change.old_truth is True and state.truth is not True and change.lasted_s >= item.clear_s:
            self._finding_log.close_all(found, change.since_s)
            found = []
        renewable = self._finding_log.take_renewable(item.id) if change.waiver_ended else []
        if state.truth is True:
            self._start_clear(state, found)
            return
        self._context.timers.cancel(("clear", "", item.id))
        if state.truth is False:
            verifiable = [f for f in found if f.is_doubt]
            self._finding_log.close_all(verifiable, self._context.sim_s)
        # A hold goes on while it is unknown if the error lasts, and starts again with the next error that is seen.
        restart = state.since_s == self._context.sim_s and (state.truth is False or change.old_truth is True)
        for gate in self.gates_of(item.id):
            if gate in self._context.cued_gates:
                self._start_hold(gate, state, restart=restart and state.truth is not change.old_truth)
        for key, finding in renewable:
            self._renew(key, finding, state)

    def item_waived(self, state: ItemState) -> None:
        """Stop the holds of an item that is waived, and close its findings."""
        for gate in self.gates_of(state.item.id):
            self._context.timers.cancel(("hold", gate, state.item.id))
        found = self._finding_log.open_for(state.item.id, RuleKind.NEED)
        self._finding_log.close_waived(found)

    def close_past(self) -> None:
        """Close the findings that are history in the present phase."""
        self._finding_log.close_past(self.matters)

    def matters(self, item: str) -> bool:
        """True if an item can still matter: to the present phase, to a later one, or to a gate that can be entered now.

        An item that no gate needs always does.
        """
        gates, phase = self._gates_of.get(item), self._context.phase
        if gates is None:
            return True
        now = self._phase_index[phase]
        ahead = (self._context.gates[gate] for gate in gates)
        return any(self._phase_index[gate.phase] >= now or phase in gate.leaves for gate in ahead)

    def hold_elapsed(self, gate: str, item: str) -> None:
        """Open a finding for an item that was open for its hold while its gate is cued; not while only a moment is missing."""
        state = self._items.states[item]
        if gate not in self._context.cued_gates or state.satisfied:
            return
        if self._items.reason(state).soon_true:
            # Nothing is wrong now but that it is new: the crew can only wait, and it is judged again after that.
            self._look_again(gate, state)
        else:
            self._open_finding(self._context.gates[gate], state, state.truth, entering=False)

    def clear_elapsed(self, item: str) -> None:
        """Close the findings of an item that was met for its clear time."""
        state = self._items.states[item]
        self._finding_log.close_all(self._finding_log.open_for(item, RuleKind.NEED), state.since_s)

    def enter(self, gate: Gate, doubt: str = "") -> int:
        """Enter a gate: open findings for the open needs at once, and close those of the met ones.

        Args:
            gate: The gate.
            doubt: Why it is not known when it was entered, '' where it is.  Its needs may have been met then: those that
                are not met now are not verifiable.

        Returns:
            Number of findings carried into the phase.
        """
        for state in self.states(gate):
            truth = state.truth
            found = self._finding_log.open_finding(FindingKey(RuleKind.NEED, gate.id, state.item.id))
            if truth is True and found is not None:
                self._finding_log.close(found.number, state.since_s)
            if self._lost_now(state):
                truth = True
            if truth is not True and not state.waived:
                self._open_finding(gate, state, truth, entering=True, doubt=doubt)
        return self._finding_log.enter_gate(gate.id)

    def _start_hold(self, gate: str, state: ItemState, *, restart: bool = False) -> None:
        """Start the hold of an open need; a running hold continues unless `restart`."""
        key = ("hold", gate, state.item.id)
        if (
            state.satisfied
            or self._finding_log.open_finding(FindingKey(RuleKind.NEED, gate, state.item.id)) is not None
        ):
            return
        if restart or not self._context.timers.is_set(key):
            self._context.timers.set(key, self._context.sim_s + state.item.hold_s)

    def _look_again(self, gate: str, state: ItemState) -> None:
        """Look at an open need again after its hold; without a hold it would be due again and again in one step."""
        again_s = max(state.item.hold_s, LOOK_AGAIN_S)
        self._context.timers.set(("hold", gate, state.item.id), self._context.sim_s + again_s)

    def _start_clear(self, state: ItemState, found: list[Finding]) -> None:
        """Stop the holds of an item that is met, and start the clear time of its findings."""
        for gate in self.gates_of(state.item.id):
            self._context.timers.cancel(("hold", gate, state.item.id))
        if found:
            due_s = state.since_s + state.item.clear_s
            self._context.timers.set(("clear", "", state.item.id), due_s)

    def _open_finding(
        self, gate: Gate, state: ItemState, truth: Truth, *, entering: bool, doubt: str = ""
    ) -> None:
        """Open a finding, unless it is already open or the item's state is unknown."""
        key = FindingKey(RuleKind.NEED, gate.id, state.item.id)
        if self._finding_log.open_finding(key) is not None:
            return
        open_need = self._finding_log.open_need(state.item.id)
        if open_need is not None and open_need.is_doubt:
            open_need = None
        if truth is None:
            if open_need is None:
                self._open_doubt(key, state, entering=entering)
            return
        # What another rule tells has no doubt of its own either.
        if open_need is None and self._is_told_otherwise(state.item, gate.id):
            if not entering:
                self._look_again(gate.id, state)
            return
        if doubt:
            reason = Reason(None, doubt, "unknown", signals=self._items.reason(state).signals)
            self._open_unverifiable(key, state, reason, entering=entering)
            return
        if open_need is not None:
            self._finding_log.repeat_at_gate(open_need, gate.id)
            return
        reason = self._items.reason(state)
        undone = self._was_met(gate.id, state)
        kind = self._finding_kind(state, reason, undone=undone)
        self._finding_log.open(
            key,
            kind,
            state.item,
            reason,
            undone=undone,
            entering=entering,
            may_be_late=entering and kind is FindingKind.OMITTED and state.item.finding is None,
        )

    def _is_told_otherwise(self, item: Item, gate: str) -> bool:
        """True while another rule that tells the same fact has a finding, or is a need of the gate that is not met."""
        if not item.told_by:
            return False
        found = {declared_id(name) for name in self._finding_log.open_items()}
        needs = (need for need in self._context.gates[gate].needs if declared_id(need) in item.told_by)
        return not found.isdisjoint(item.told_by) or any(
            self._items.states[need].truth is False for need in needs
        )

    def _open_doubt(self, key: FindingKey, state: ItemState, *, entering: bool) -> None:
        """Report an unknown need at the entry; before it only what time alone will not make known.

        A signal that the simulator never sends is no doubt about the crew.
        """
        unknown = self._items.unknown_reason(state)
        if unknown is UnknownReason.NO_DATA:
            return
        reason = self._items.reason(state)
        if unknown is UnknownReason.STALE:
            # While a whole sender is silent the simulator's clock stands still: nothing has been missed yet.
            lasting = state.since_s < self._context.sim_s
        else:
            lasting = reason.missing_for_good
        if entering or lasting:
            self._open_unverifiable(key, state, reason, entering=entering)

    def _renew(self, key: FindingKey, closed: Finding, state: ItemState) -> None:
        """Open a new finding for one that a waiver closed, where its gate is not cued and no hold would open it.

        An error that was corrected meanwhile stays closed.  A gate that was passed finds it carried into the phase.
        """
        corrected = state.last_met_s is not None and state.last_met_s >= (closed.closed_s or 0.0)
        if key.gate not in self._context.cued_gates and not corrected:
            passed = key.gate not in self._context.active_gates
            self._open_finding(self._context.gates[key.gate], state, state.truth, entering=passed)

    def _open_unverifiable(
        self, key: FindingKey, state: ItemState, reason: Reason, *, entering: bool
    ) -> None:
        """Report once that the item cannot be verified."""
        if state.unverifiable_reported:
            return
        state.unverifiable_reported = True
        kind = FindingKind.NOT_VERIFIABLE
        self._finding_log.open(key, kind, state.item, reason, level=Level.ADVISORY, entering=entering)

    def _finding_kind(self, state: ItemState, reason: Reason, *, undone: bool) -> FindingKind:
        """Kind of error of a need that is not met."""
        if state.item.finding is not None:
            return state.item.finding
        if undone:
            return FindingKind.UNDONE
        if self._activity.moved(state.value_signals.intersection(reason.signals)):
            return FindingKind.WRONG_VALUE
        return FindingKind.OMITTED

    def _was_met(self, gate: str, state: ItemState) -> bool:
        """True if the item was met for its clear time since the gate became active."""
        return state.last_met_s is not None and state.last_met_s >= self.active_since_s.get(gate, 0.0)
