"""Items: each expectation's truth, life and memory.

Takes: the ids whose truth may have changed.  Gives: a VerdictChanged for each that did, and the change itself for
those who act on it.  UNKNOWN is told apart: stale, never sent, or not yet long enough.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum, auto
from operator import attrgetter
from typing import NamedTuple

from rules.judge.condition_facts import calls_in, signals_read, value_signals
from rules.judge.context import JudgeContext
from rules.judge.events import ItemStatus, Verdict, VerdictChanged
from rules.language.checked_tree import FaultyCondition
from rules.language.truth import Reason, Truth
from rules.packs.model import Item
from rules.signals.model import Quality


class UnknownReason(Enum):
    """Why an expectation is UNKNOWN."""

    STALE = auto()  # a signal that was seen is out of date or not valid
    NO_DATA = auto()  # nobody ever sent it, or the condition itself is broken
    PENDING = auto()  # not seen for long enough to tell


@dataclass(slots=True)
class ItemState:
    """One expectation now.

    `since_s` is when its truth became what it is, `before` what it was until then.  `last_met_s` is the end of the
    latest time for which it was met long enough (`clear_s`) to count: what is lost after that is undone.
    """

    item: Item
    position: int
    signals: frozenset[str]
    value_signals: frozenset[str]
    waits_for_call: bool = False
    truth: Truth = None
    previous_truth: Truth = None
    status: ItemStatus = ItemStatus.NO_DATA
    since_s: float = 0.0
    last_met_s: float | None = None
    confirmed_by: str = ""
    waived: str = ""
    unverifiable_reported: bool = False

    @property
    def satisfied(self) -> bool:
        """Whether it stands in nobody's way: met, confirmed or excused."""
        return self.truth is True or bool(self.waived)

    def met_long_enough(self, sim_s: float) -> bool:
        """Whether the present time of being met has lasted for `clear_s`."""
        return self.truth is True and sim_s - self.since_s >= self.item.clear_s


class ItemChange(NamedTuple):
    """An item whose truth changed, or whose reason for being unknown may have; `ran_s` is how long `was` lasted.

    `before` and `met_s` are what the item's `before` and `last_met_s` were.
    """

    state: ItemState
    old_truth: Truth
    since_s: float
    lasted_s: float
    previous_truth: Truth = None
    last_met_s: float | None = None


def verdict_of(truth: Truth) -> Verdict:
    """The word for a truth."""
    if truth is None:
        return Verdict.UNKNOWN
    return Verdict.MET if truth else Verdict.UNMET


def unknown_reason(context: JudgeContext, signals: Iterable[str], *, broken: bool = False) -> UnknownReason:
    """Why something that reads these signals is UNKNOWN."""
    qualities = {context.state.sample(name).quality for name in signals}
    if qualities & {Quality.STALE, Quality.INVALID}:
        return UnknownReason.STALE
    return UnknownReason.NO_DATA if broken or Quality.ABSENT in qualities else UnknownReason.PENDING


class Items:
    """Every item of the pack, in the pack's order."""

    def __init__(self, context: JudgeContext) -> None:
        """Nothing is known yet; what was dispatched inoperative is excused."""
        self._context = context
        self.states: dict[str, ItemState] = {}
        for order, item in enumerate(context.pack.items.values()):
            reads = signals_read(item.condition) | frozenset(item.signals)
            self.states[item.id] = ItemState(
                item, order, reads, value_signals(item.condition), bool(calls_in(item.condition))
            )
        self.reset()

    def readers(self) -> dict[str, list[str]]:
        """Per signal the items that read it."""
        found: dict[str, list[str]] = {}
        for state in self.states.values():
            for name in sorted(state.signals):
                found.setdefault(name, []).append(state.item.id)
        return found

    def reset(self) -> None:
        """Forget truths and memories; what the instructor excused stays so."""
        for state in self.states.values():
            state.truth, state.previous_truth, state.status = None, None, ItemStatus.NO_DATA
            state.last_met_s, state.confirmed_by, state.unverifiable_reported = None, "", False
            state.since_s = self._context.sim_s
            state.waived = state.item.waived or state.waived
            self._update_monitors(state)

    def update(self, ids: Iterable[str]) -> list[ItemChange]:
        """Look again at these items (other ids are passed over).

        Returns:
            One change for each item among them whose verdict or life changed, in the pack's order.
        """
        states = sorted((self.states[i] for i in ids if i in self.states), key=attrgetter("position"))
        return [change for state in states if (change := self._update_item(state)) is not None]

    def undo_change(self, change: ItemChange, at_s: float) -> ItemChange | None:
        """Let a change of `at_s` not have been, where the item has not changed since and is again what it was.

        Returns:
            The change back, as if it had lasted no time at all; None where there is nothing to take back.
        """
        state, was = change.state, change.state.truth
        if was is change.old_truth or state.since_s != at_s or self._truth(state) is not change.old_truth:
            return None
        state.truth, state.previous_truth, state.since_s = (
            change.old_truth,
            change.previous_truth,
            change.since_s,
        )
        state.last_met_s = change.last_met_s
        state.status = self._status(state)
        self._emit_verdict(state)
        return ItemChange(state, was, at_s, 0.0)

    def confirm(self, state: ItemState, seat: str) -> None:
        """The crew says that it is so."""
        state.confirmed_by = seat
        self._update_monitors(state)

    def waive(self, state: ItemState, reason: str) -> None:
        """It need not be so on this flight."""
        state.waived = reason
        self._update_monitors(state)

    def unverify(self, ids: Iterable[str]) -> list[str]:
        """Let these items stand as if never met; those confirmed are open again.

        Returns:
            The ids of those that were confirmed.
        """
        reopened = []
        for state in (self.states[i] for i in dict.fromkeys(ids)):
            state.last_met_s, state.unverifiable_reported = None, False
            state.since_s = self._context.sim_s
            if state.confirmed_by:
                state.confirmed_by = ""
                self._update_monitors(state)
                reopened.append(state.item.id)
        return reopened

    def reason(self, state: ItemState) -> Reason:
        """Why the item is what it is."""
        item = state.item
        if state.waived:
            return Reason(None, f"waived: {state.waived}", actual="waived")
        if item.condition is not None:
            return self._context.monitors.explain(item.id)
        if not state.confirmed_by:
            sentence = f"{item.confirm}: not confirmed"
            return Reason(truth=False, sentence=sentence, actual="not confirmed", wanted="confirmed")
        seat = self._context.pack.seats.get(state.confirmed_by, state.confirmed_by)
        sentence = f"{item.confirm}: confirmed by {seat}"
        return Reason(truth=True, sentence=sentence, actual="confirmed", wanted="confirmed")

    def unknown_reason(self, state: ItemState) -> UnknownReason:
        """Why the item is UNKNOWN; only where it is."""
        broken = isinstance(state.item.condition, FaultyCondition)
        deaf = state.waits_for_call and not self._context.monitors.calls_entered
        return unknown_reason(
            self._context, self.reason(state).signals or state.signals, broken=broken or deaf
        )

    def _update_item(self, state: ItemState) -> ItemChange | None:
        """Take in the item's present truth."""
        now_s, was, life = self._context.sim_s, state.truth, state.status
        truth = self._truth(state)
        change = ItemChange(
            state, was, state.since_s, now_s - state.since_s, state.previous_truth, state.last_met_s
        )
        if truth is not was:
            if state.met_long_enough(now_s):
                state.last_met_s = now_s
            state.previous_truth, state.truth, state.since_s = was, truth, now_s
        state.status = self._status(state)
        if truth is was and state.status is life:
            # Unknown for another reason than before is news to a gate, though not to the record.
            return change if truth is None else None
        self._emit_verdict(state)
        return change

    def _emit_verdict(self, state: ItemState) -> None:
        """Put the item's verdict on the record."""
        reason = self.reason(state)
        self._context.emit(
            VerdictChanged(
                self._context.sim_s,
                state.item.id,
                verdict_of(state.truth),
                state.status,
                reason.sentence,
                reason.actual,
                reason.wanted,
            )
        )

    def _truth(self, state: ItemState) -> Truth:
        """The item's truth from the state; a confirmation counts only where no signal can show it."""
        if state.item.condition is None:
            return bool(state.confirmed_by)
        return None if state.item.waived else self._context.monitors.truth(state.item.id)

    def _status(self, state: ItemState) -> ItemStatus:
        """Where the item stands in its life."""
        if state.waived:
            return ItemStatus.WAIVED
        if state.truth is True:
            return ItemStatus.CONFIRMED if state.item.condition is None else ItemStatus.MET
        if state.truth is None and self.unknown_reason(state) is UnknownReason.NO_DATA:
            return ItemStatus.NO_DATA
        return ItemStatus.OPEN if state.last_met_s is None else ItemStatus.LOST

    def _update_monitors(self, state: ItemState) -> None:
        """Tell those conditions that ask whether this item is met."""
        if state.item.condition is None or state.waived:
            self._context.monitors.set_item_truth(state.item.id, bool(state.confirmed_by or state.waived))
