"""Rules of order: actions that are done too early, or before an action that they follow.

Only an action counts: the item becomes met, after it was known to be unmet, while its `after` is known to be false, or
while an item that it follows is known to be unmet.  It must stay met for the item's hold.  The finding closes when the
action is undone, or when its prerequisite is met.

Takes: changes of items and of their prerequisites.  Gives: findings in the finding log.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from rules.judge.condition_ids import after_id
from rules.judge.context import JudgeContext
from rules.judge.findings import FindingKey, FindingLog, RuleKind
from rules.judge.gate_requirements import GateRequirements
from rules.judge.items import ItemChange, Items, ItemState
from rules.judge.wording import actual_and_wanted, prerequisite_text, too_early_text
from rules.language.truth import Reason
from rules.packs.condition_facts import signals_read
from rules.packs.model import FindingKind
from rules.words import uncapitalised

_FINDING_KINDS = {RuleKind.TOO_EARLY: FindingKind.TOO_EARLY, RuleKind.OUT_OF_ORDER: FindingKind.OUT_OF_ORDER}


class OrderRules:
    """All items that have an `after` or a `follows`."""

    def __init__(
        self, context: JudgeContext, items: Items, requirements: GateRequirements, finding_log: FindingLog
    ) -> None:
        self._context = context
        self._items = items
        self._requirements = requirements
        self._finding_log = finding_log
        self._afters: dict[str, ItemState] = {}
        self._followers: dict[str, list[ItemState]] = {}
        self._suspended: set[tuple[RuleKind, str]] = set()
        for state in items.states.values():
            if state.item.after is not None:
                self._afters[after_id(state.item.id)] = state
            for predecessor in state.item.follows:
                self._followers.setdefault(predecessor, []).append(state)

    def step(self, changes: Sequence[ItemChange], changed: Collection[str]) -> None:
        """Process the changes of a step; all of them count as done at the same time."""
        for change in changes:
            self._item_changed(change)
        for name, state in self._afters.items():
            if name in changed:
                self._close_resolved(state)
        for change in changes:
            for follower in self._followers.get(change.state.item.id, ()):
                self._close_resolved(follower)

    def reset(self) -> None:
        """Forget the errors that waivers suspend, after a jump of the clock."""
        self._suspended.clear()

    def item_waived(self, state: ItemState) -> None:
        """Suspend the errors of order of an item that is waived, and of those that follow it alone."""
        self._suspend(state, tuple(_FINDING_KINDS))
        for follower in self._followers.get(state.item.id, ()):
            if not self._violated(RuleKind.OUT_OF_ORDER, follower):
                self._suspend(follower, (RuleKind.OUT_OF_ORDER,))

    def _suspend(self, state: ItemState, rule_kinds: Collection[RuleKind]) -> None:
        """Close the findings of an action, and stop its holds; they count again if the waiver is undone."""
        for rule_kind in rule_kinds:
            key = _timer_key(rule_kind, state)
            found = self._finding_log.open_for(state.item.id, rule_kind)
            if found or self._context.timers.is_set(key):
                self._suspended.add((rule_kind, state.item.id))
            self._context.timers.cancel(key)
            self._finding_log.close_waived(found)

    def _resume(self, state: ItemState) -> None:
        """Start the holds of the errors that a waiver suspended."""
        for follower in (state, *self._followers.get(state.item.id, ())):
            for rule_kind in _FINDING_KINDS:
                error = (rule_kind, follower.item.id)
                if error in self._suspended and not follower.waived and self._violated(rule_kind, follower):
                    self._suspended.discard(error)
                    if not self._requirements.matters(follower.item.id):
                        continue
                    due_s = self._context.sim_s + follower.item.hold_s
                    self._context.timers.set(_timer_key(rule_kind, follower), due_s)

    def still_violated(self, key: FindingKey) -> bool:
        """True if the action is still too early, or out of order."""
        state = self._items.states[key.item]
        return state.truth is True and self._violated(key.rule_kind, state)

    def recheck_since(self, at_s: float) -> None:
        """Judge again the actions whose hold was not over at `at_s`, since a prerequisite was undone."""
        for state in self._items.states.values():
            if state.truth is not True or state.previous_truth is not False or not self._applies(state):
                continue
            due_s = state.since_s + state.item.hold_s
            for rule_kind in _FINDING_KINDS:
                known = self._finding_log.open_for(state.item.id, rule_kind)
                if due_s >= at_s and not known and self._clearly_violated(rule_kind, state):
                    self._context.timers.set(_timer_key(rule_kind, state), max(due_s, self._context.sim_s))

    def hold_elapsed(self, rule_kind: RuleKind, item: str) -> None:
        """Open a finding for an action that is still against the order after its hold."""
        state = self._items.states[item]
        key = FindingKey(rule_kind, self._gate(state), item)
        if (
            state.truth is True
            and self._clearly_violated(rule_kind, state)
            and not self._finding_log.open_for(item, rule_kind)
        ):
            self._finding_log.open(key, _FINDING_KINDS[rule_kind], state.item, self._reason(rule_kind, state))

    def _item_changed(self, change: ItemChange) -> None:
        """Start the hold of an action; close the findings about one that is undone."""
        state = change.state
        if change.waiver_ended:
            self._resume(state)
        if state.truth is None:
            return  # its hold ends without a finding, unless it was unknown for no time
        was_unknown = change.old_truth is None and state.since_s == self._context.sim_s
        if state.truth is False or was_unknown:
            for rule_kind in _FINDING_KINDS:
                self._suspended.discard((rule_kind, state.item.id))
                self._context.timers.cancel(_timer_key(rule_kind, state))
        if state.truth is False:
            for rule_kind in _FINDING_KINDS:
                found = self._finding_log.open_for(state.item.id, rule_kind)
                self._finding_log.close_all(found, self._context.sim_s)
            return
        if change.old_truth is False and self._applies(state):
            for rule_kind in _FINDING_KINDS:
                if self._clearly_violated(rule_kind, state) and not self._hidden_by_gap(rule_kind, state):
                    self._context.timers.set(
                        _timer_key(rule_kind, state), self._context.sim_s + state.item.hold_s
                    )

    def _hidden_by_gap(self, rule_kind: RuleKind, state: ItemState) -> bool:
        """True if the action was done in a gap in the data, in which its prerequisite may have been met; calls have no gap."""
        by_calls = rule_kind is RuleKind.TOO_EARLY and not signals_read(state.item.after)
        return self._context.gap_s > 0 and not by_calls

    def _close_resolved(self, state: ItemState) -> None:
        """Close the findings about an action that is no longer against the order."""
        for rule_kind in _FINDING_KINDS:
            if not self._violated(rule_kind, state):
                self._finding_log.close_all(
                    self._finding_log.open_for(state.item.id, rule_kind), self._context.sim_s
                )
            if not self._violated(rule_kind, state, waived_too=True):
                self._suspended.discard((rule_kind, state.item.id))

    def must_wait(self, state: ItemState) -> bool:
        """True if the item is not to be done yet: what it comes after is known not to be so."""
        return any(self._clearly_violated(rule_kind, state) for rule_kind in _FINDING_KINDS)

    def _applies(self, state: ItemState) -> bool:
        """True if a gate that needs the item is active, or no gate needs it."""
        gates = self._requirements.gates_of(state.item.id)
        return not state.waived and (not gates or not self._context.active_gates.isdisjoint(gates))

    def _gate(self, state: ItemState) -> str:
        """First active gate that needs the item, '' for none."""
        ahead = (g for g in self._requirements.gates_of(state.item.id) if g in self._context.active_gates)
        return next(ahead, "")

    def _clearly_violated(self, rule_kind: RuleKind, state: ItemState) -> bool:
        """True if the action is known to be against the order; an unknown prerequisite is no error."""
        if rule_kind is RuleKind.OUT_OF_ORDER:
            return bool(self._unmet_predecessors(state))
        return state.item.after is not None and self._after_truth(state) is False

    def _violated(self, rule_kind: RuleKind, state: ItemState, *, waived_too: bool = False) -> bool:
        """True if a prerequisite of the action is not known to be met; waived ones count only if `waived_too`."""
        if rule_kind is RuleKind.OUT_OF_ORDER:
            predecessors = [self._items.states[predecessor] for predecessor in state.item.follows]
            return any(p.truth is not True and (waived_too or not p.waived) for p in predecessors)
        return state.item.after is not None and self._after_truth(state) is not True

    def _after_truth(self, state: ItemState) -> bool | None:
        """Truth of the item's `after`."""
        return self._context.monitors.truth(after_id(state.item.id))

    def _unmet_predecessors(self, state: ItemState, *, waived_too: bool = False) -> list[ItemState]:
        """Items that it follows and that are known to be unmet."""
        predecessors = [self._items.states[predecessor] for predecessor in state.item.follows]
        return [
            predecessor
            for predecessor in predecessors
            if predecessor.truth is False and (waived_too or not predecessor.waived)
        ]

    def _reason(self, rule_kind: RuleKind, state: ItemState) -> Reason:
        """Reason sentence: the action and its prerequisite."""
        if rule_kind is RuleKind.OUT_OF_ORDER:
            prerequisites = " and ".join(
                uncapitalised(predecessor.item.label) for predecessor in self._unmet_predecessors(state)
            )
            sentence = f"{uncapitalised(state.item.label)} before {prerequisites}"
        else:
            prerequisites = prerequisite_text(state.item)
            sentence = too_early_text(state.item, self._context.monitors.explain(after_id(state.item.id)))
        actual, _ = actual_and_wanted(self._items.reason(state))
        return Reason(truth=False, sentence=sentence, actual=actual, wanted=f"after {prerequisites}")


def _timer_key(rule_kind: RuleKind, state: ItemState) -> tuple[str, str, str]:
    """Key of the timer of an action's hold."""
    return f"order {rule_kind}", "", state.item.id
