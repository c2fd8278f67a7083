"""Order: what was done too early, or before that which it follows.

Only an action counts: the item becomes met, having been known unmet, while its `after` is known not to be so, or while
an item that it follows is known not to be met.  It must stay so for the item's hold.  It is mended when the action is
taken back, or when that comes which it should have come after.

Takes: changes of items and of what they come after.  Gives: findings through the ledger.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from rules.judge.findings import About, Family, Ledger
from rules.judge.items import Change, Items, ItemState
from rules.judge.needs import Needs
from rules.judge.session import Session, after_id
from rules.judge.wording import before_words, evidence
from rules.language.truth import Reason
from rules.packs.model import FindingKind

_KINDS = {Family.TOO_EARLY: FindingKind.TOO_EARLY, Family.OUT_OF_ORDER: FindingKind.OUT_OF_ORDER}


class Order:
    """All items that have an `after` or a `follows`."""

    def __init__(self, session: Session, items: Items, needs: Needs, ledger: Ledger) -> None:
        """Nothing done yet."""
        self._session = session
        self._items = items
        self._needs = needs
        self._ledger = ledger
        self._afters: dict[str, ItemState] = {}
        self._followers: dict[str, list[ItemState]] = {}
        for state in items.states.values():
            if state.item.after is not None:
                self._afters[after_id(state.item.id)] = state
            for first in state.item.follows:
                self._followers.setdefault(first, []).append(state)

    def look(self, changes: Sequence[Change], changed: Collection[str]) -> None:
        """Take in a step: all its changes count as done at the same moment."""
        for change in changes:
            self._look(change)
        for name, state in self._afters.items():
            if name in changed:
                self._mend(state)
        for change in changes:
            for follower in self._followers.get(change.state.item.id, ()):
                self._mend(follower)

    def excused(self, state: ItemState) -> None:
        """An item was excused: what was found about its order is closed."""
        for family in _KINDS:
            self._session.timers.drop(_key(family, state))
            found = self._ledger.open_on(state.item.id, family)
            self._ledger.mend_all(found, self._session.sim_s, done=False)

    def stands_against(self, about: About) -> bool:
        """Whether that which was done too early, or out of order, still is."""
        state = self._items.states[about.item]
        return state.truth is True and self._against(about.family, state)

    def look_back(self, at_s: float) -> None:
        """What an action came after is not so after all: judge those whose hold was not over at that moment."""
        for state in self._items.states.values():
            if state.truth is not True or state.before is not False or not self._judged(state):
                continue
            due_s = state.since_s + state.item.hold_s
            for family in _KINDS:
                known = self._ledger.open_on(state.item.id, family)
                if due_s >= at_s and not known and self._clearly_against(family, state):
                    self._session.timers.set(_key(family, state), max(due_s, self._session.sim_s))

    def due(self, family: Family, item: str) -> None:
        """An action has stood for its hold: it is a finding if it is still too early, or out of order."""
        state = self._items.states[item]
        about = About(family, self._gate(state), item)
        if state.truth is True and self._against(family, state) and not self._ledger.open_on(item, family):
            self._ledger.open(about, _KINDS[family], state.item, self._reason(family, state))

    def _look(self, change: Change) -> None:
        """Begin the hold of an action; end what was found about one that is taken back."""
        state = change.state
        if state.truth is not True:
            for family in _KINDS:
                self._session.timers.drop(_key(family, state))
                if state.truth is False:
                    self._ledger.mend_all(self._ledger.open_on(state.item.id, family), self._session.sim_s)
            return
        if change.was is False and self._judged(state):
            for family in _KINDS:
                if self._clearly_against(family, state):
                    self._session.timers.set(_key(family, state), self._session.sim_s + state.item.hold_s)

    def _mend(self, state: ItemState) -> None:
        """Close what is not too early, or not out of order, any more."""
        for family in _KINDS:
            if not self._against(family, state):
                self._ledger.mend_all(self._ledger.open_on(state.item.id, family), self._session.sim_s)

    def _judged(self, state: ItemState) -> bool:
        """Whether the order matters now: a gate that needs the item is ahead, or none ever needs it."""
        gates = self._needs.gates_of(state.item.id)
        return not state.excused and (not gates or not self._session.in_play.isdisjoint(gates))

    def _gate(self, state: ItemState) -> str:
        """The first gate ahead that needs the item, '' for none."""
        ahead = (g for g in self._needs.gates_of(state.item.id) if g in self._session.in_play)
        return next(ahead, "")

    def _clearly_against(self, family: Family, state: ItemState) -> bool:
        """Whether it is known to be against the order; what cannot be told is nobody's error."""
        if family is Family.OUT_OF_ORDER:
            return bool(self._unmet(state))
        return state.item.after is not None and self._after(state) is False

    def _against(self, family: Family, state: ItemState) -> bool:
        """Whether that has not come yet which it should have come after."""
        if family is Family.OUT_OF_ORDER:
            return bool(self._unmet(state))
        return state.item.after is not None and self._after(state) is not True

    def _after(self, state: ItemState) -> bool | None:
        """The truth of the item's `after`."""
        return self._session.monitors.truth(after_id(state.item.id))

    def _unmet(self, state: ItemState) -> list[ItemState]:
        """The items that it follows and that are known not to be met."""
        firsts = [self._items.states[first] for first in state.item.follows]
        return [first for first in firsts if first.truth is False and not first.excused]

    def _reason(self, family: Family, state: ItemState) -> Reason:
        """What was done, and what it should have come after."""
        if family is Family.OUT_OF_ORDER:
            words = " and ".join(_label(first) for first in self._unmet(state))
        else:
            words = before_words(state.item, self._session.monitors.explain(after_id(state.item.id)))
        actual, _ = evidence(self._items.reason(state))
        sentence = f"{_label(state)} before {words}"
        return Reason(truth=False, sentence=sentence, actual=actual, wanted=f"after {words}")


def _label(state: ItemState) -> str:
    """An item as it is said within a sentence."""
    label = state.item.label
    return label if label[1:2].isupper() else label[:1].lower() + label[1:]


def _key(family: Family, state: ItemState) -> tuple[str, str, str]:
    """The timer of an action's hold."""
    return f"done {family}", "", state.item.id
