"""Order: what was done too early, or before that which it follows.

Only an action counts: the item becomes met, having been known unmet, while its `after` is known not to be so, or while
an item that it follows is known not to be met.  It must stay so for the item's hold.  It is mended when the action is
taken back, or when that comes which it should have come after.

Takes: changes of items and of what they come after.  Gives: findings through the ledger.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from rules.judge.condition_ids import after_id
from rules.judge.context import JudgeContext
from rules.judge.findings import FindingKey, FindingLog, RuleKind
from rules.judge.gate_requirements import GateRequirements
from rules.judge.items import ItemChange, Items, ItemState
from rules.judge.wording import actual_and_wanted, prerequisite_text
from rules.language.truth import Reason
from rules.packs.model import FindingKind

_FINDING_KINDS = {RuleKind.TOO_EARLY: FindingKind.TOO_EARLY, RuleKind.OUT_OF_ORDER: FindingKind.OUT_OF_ORDER}


class OrderRules:
    """All items that have an `after` or a `follows`."""

    def __init__(
        self, context: JudgeContext, items: Items, requirements: GateRequirements, finding_log: FindingLog
    ) -> None:
        """Nothing done yet."""
        self._context = context
        self._items = items
        self._requirements = requirements
        self._finding_log = finding_log
        self._afters: dict[str, ItemState] = {}
        self._followers: dict[str, list[ItemState]] = {}
        for state in items.states.values():
            if state.item.after is not None:
                self._afters[after_id(state.item.id)] = state
            for first in state.item.follows:
                self._followers.setdefault(first, []).append(state)

    def step(self, changes: Sequence[ItemChange], changed: Collection[str]) -> None:
        """Take in a step: all its changes count as done at the same moment."""
        for change in changes:
            self._item_changed(change)
        for name, state in self._afters.items():
            if name in changed:
                self._close_resolved(state)
        for change in changes:
            for follower in self._followers.get(change.state.item.id, ()):
                self._close_resolved(follower)

    def item_waived(self, state: ItemState) -> None:
        """An item was excused: what was found about its order is closed."""
        for family in _FINDING_KINDS:
            self._context.timers.cancel(_timer_key(family, state))
            found = self._finding_log.open_for(state.item.id, family)
            self._finding_log.close_all(found, self._context.sim_s, corrected=False)

    def still_violated(self, key: FindingKey) -> bool:
        """Whether that which was done too early, or out of order, still is."""
        state = self._items.states[key.item]
        return state.truth is True and self._violated(key.rule_kind, state)

    def recheck_since(self, at_s: float) -> None:
        """What an action came after is not so after all: judge those whose hold was not over at that moment."""
        for state in self._items.states.values():
            if state.truth is not True or state.previous_truth is not False or not self._applies(state):
                continue
            due_s = state.since_s + state.item.hold_s
            for family in _FINDING_KINDS:
                known = self._finding_log.open_for(state.item.id, family)
                if due_s >= at_s and not known and self._clearly_violated(family, state):
                    self._context.timers.set(_timer_key(family, state), max(due_s, self._context.sim_s))

    def hold_elapsed(self, rule_kind: RuleKind, item: str) -> None:
        """An action has stood for its hold: it is a finding if it is still too early, or out of order."""
        state = self._items.states[item]
        about = FindingKey(rule_kind, self._gate(state), item)
        if (
            state.truth is True
            and self._violated(rule_kind, state)
            and not self._finding_log.open_for(item, rule_kind)
        ):
            self._finding_log.open(
                about, _FINDING_KINDS[rule_kind], state.item, self._reason(rule_kind, state)
            )

    def _item_changed(self, change: ItemChange) -> None:
        """Begin the hold of an action; end what was found about one that is taken back."""
        state = change.state
        if state.truth is not True:
            for family in _FINDING_KINDS:
                self._context.timers.cancel(_timer_key(family, state))
                if state.truth is False:
                    self._finding_log.close_all(
                        self._finding_log.open_for(state.item.id, family), self._context.sim_s
                    )
            return
        if change.old_truth is False and self._applies(state):
            for family in _FINDING_KINDS:
                if self._clearly_violated(family, state):
                    self._context.timers.set(
                        _timer_key(family, state), self._context.sim_s + state.item.hold_s
                    )

    def _close_resolved(self, state: ItemState) -> None:
        """Close what is not too early, or not out of order, any more."""
        for family in _FINDING_KINDS:
            if not self._violated(family, state):
                self._finding_log.close_all(
                    self._finding_log.open_for(state.item.id, family), self._context.sim_s
                )

    def _applies(self, state: ItemState) -> bool:
        """Whether the order matters now: a gate that needs the item is ahead, or none ever needs it."""
        gates = self._requirements.gates_of(state.item.id)
        return not state.waived and (not gates or not self._context.active_gates.isdisjoint(gates))

    def _gate(self, state: ItemState) -> str:
        """The first gate ahead that needs the item, '' for none."""
        ahead = (g for g in self._requirements.gates_of(state.item.id) if g in self._context.active_gates)
        return next(ahead, "")

    def _clearly_violated(self, rule_kind: RuleKind, state: ItemState) -> bool:
        """Whether it is known to be against the order; what cannot be told is nobody's error."""
        if rule_kind is RuleKind.OUT_OF_ORDER:
            return bool(self._unmet_predecessors(state))
        return state.item.after is not None and self._after_truth(state) is False

    def _violated(self, rule_kind: RuleKind, state: ItemState) -> bool:
        """Whether that has not come yet which it should have come after."""
        if rule_kind is RuleKind.OUT_OF_ORDER:
            return bool(self._unmet_predecessors(state))
        return state.item.after is not None and self._after_truth(state) is not True

    def _after_truth(self, state: ItemState) -> bool | None:
        """The truth of the item's `after`."""
        return self._context.monitors.truth(after_id(state.item.id))

    def _unmet_predecessors(self, state: ItemState) -> list[ItemState]:
        """The items that it follows and that are known not to be met."""
        firsts = [self._items.states[first] for first in state.item.follows]
        return [first for first in firsts if first.truth is False and not first.waived]

    def _reason(self, rule_kind: RuleKind, state: ItemState) -> Reason:
        """What was done, and what it should have come after."""
        if rule_kind is RuleKind.OUT_OF_ORDER:
            words = " and ".join(_label_in_sentence(first) for first in self._unmet_predecessors(state))
        else:
            words = prerequisite_text(state.item, self._context.monitors.explain(after_id(state.item.id)))
        actual, _ = actual_and_wanted(self._items.reason(state))
        sentence = f"{_label_in_sentence(state)} before {words}"
        return Reason(truth=False, sentence=sentence, actual=actual, wanted=f"after {words}")


def _label_in_sentence(state: ItemState) -> str:
    """An item as it is said within a sentence."""
    label = state.item.label
    return label if label[1:2].isupper() else label[:1].lower() + label[1:]


def _timer_key(rule_kind: RuleKind, state: ItemState) -> tuple[str, str, str]:
    """The timer of an action's hold."""
    return f"order {rule_kind}", "", state.item.id
