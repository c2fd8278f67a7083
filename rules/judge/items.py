"""Items: truth, status and history of each item.

Takes: the ids of conditions whose truth may have changed.  Gives: a `VerdictChanged` event for each change, and the
change itself for the other parts.  An unknown truth has a reason: stale, never received, data missing from its look-back,
or not observed for long enough.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum, auto
from operator import attrgetter
from typing import NamedTuple

from rules.judge.context import JudgeContext
from rules.judge.events import (
    TRIP_SHEET,
    ItemStatus,
    Verdict,
    VerdictChanged,
    WaiverBegun,
    WaiverUndone,
)
from rules.judge.own_sentences import own_sentence
from rules.judge.required_times import RequiredTimes
from rules.language.checked_tree import FaultyCondition
from rules.language.truth import Reason, Truth
from rules.packs.condition_facts import calls_awaited, compared_signals, signals_read, value_signals
from rules.packs.model import Item
from rules.signals.model import Quality


class UnknownReason(Enum):
    """Reason for which an item is unknown."""

    STALE = auto()  # a received signal is out of date or not valid
    NO_DATA = auto()  # never received, or the condition is faulty
    DATA_MISSING = auto()  # data are missing from its look-back
    PENDING = auto()  # not observed for long enough


WITHOUT_DATA = (UnknownReason.NO_DATA, UnknownReason.DATA_MISSING)
"""Reasons for which nobody could see an item; for the others it was seen, but is not known now."""


@dataclass(slots=True)
class ItemState:
    """State of one item.

    `since_s` is when its truth became what it is, `previous_truth` its truth before that.  `last_met_s` is the end of
    the latest time for which it was met long enough (`clear_s`) to count: an item that is lost after that was undone.
    A time in which the item asked for nothing does not count.
    `waived` is the reason for which it is waived, '' if it is not, and `waived_by` is who waived it.  `waived_s` is since
    when, None before the first frame.
    `version` is that of the context in which the state changed last; `last_change` is that of its truth.
    `subjects` are the signals that its condition judges, without those that say when it applies; `calls` those that it awaits.
    """

    item: Item
    position: int
    signals: frozenset[str]
    value_signals: frozenset[str]
    subjects: tuple[str, ...] = ()
    calls: frozenset[str] = frozenset()
    truth: Truth = None
    previous_truth: Truth = None
    status: ItemStatus = ItemStatus.NO_DATA
    since_s: float = 0.0
    last_met_s: float | None = None
    confirmed_by: str = ""
    waived: str = ""
    waived_by: str = ""
    waived_s: float | None = None
    unverifiable_reported: bool = False
    version: int = 0
    last_change: ItemChange | None = None

    @property
    def id(self) -> str:
        """Id of the item."""
        return self.item.id

    @property
    def verdict(self) -> Verdict:
        """Verdict of the present truth."""
        return verdict_of(self.truth)

    @property
    def satisfied(self) -> bool:
        """True if it blocks no gate: met, confirmed or waived."""
        return self.truth is True or bool(self.waived)

    @property
    def waiver_can_be_undone(self) -> bool:
        """True if it was waived by request: what the trip sheet waives has no data to be judged by."""
        return bool(self.waived) and not self.item.waived

    def met_long_enough(self, sim_s: float) -> bool:
        """True if it has been met for `clear_s` now."""
        return self.truth is True and sim_s - self.since_s >= self.item.clear_s


class ItemChange(NamedTuple):
    """Change of an item's truth, or possibly of the reason for which it is unknown.

    `lasted_s` is the duration of `old_truth`; `previous_truth` and `last_met_s` are those of the item before the
    change.  `waiver_ended` is True where its waiver was undone.
    """

    state: ItemState
    old_truth: Truth
    since_s: float
    lasted_s: float
    previous_truth: Truth = None
    last_met_s: float | None = None
    waiver_ended: bool = False


def verdict_of(truth: Truth) -> Verdict:
    """Verdict of a truth."""
    if truth is None:
        return Verdict.UNKNOWN
    return Verdict.MET if truth else Verdict.UNMET


def unknown_reason(
    context: JudgeContext, signals: Iterable[str], *, faulty: bool = False, data_missing: bool = False
) -> UnknownReason:
    """Reason for which a condition that reads these signals is unknown."""
    qualities = {context.state.sample(name).quality for name in signals}
    if qualities & {Quality.STALE, Quality.INVALID}:
        return UnknownReason.STALE
    if faulty or Quality.ABSENT in qualities:
        return UnknownReason.NO_DATA
    return UnknownReason.DATA_MISSING if data_missing else UnknownReason.PENDING


class Items:
    """All items of the pack, in the pack's order."""

    def __init__(self, context: JudgeContext) -> None:
        """Start with unknown truths; an item whose signals are dispatched inoperative is waived."""
        self._context = context
        self._required_times = RequiredTimes(context)
        self.states: dict[str, ItemState] = {}
        for position, item in enumerate(context.pack.items.values()):
            signals = signals_read(item.condition) | frozenset(item.signals)
            self.states[item.id] = ItemState(
                item,
                position,
                signals,
                value_signals(item.condition),
                compared_signals(item.condition),
                calls_awaited(item.condition),
            )
        self.reset()

    def readers(self) -> dict[str, list[str]]:
        """Items that read each signal."""
        found: dict[str, list[str]] = {}
        for state in self.states.values():
            for name in sorted(state.signals):
                found.setdefault(name, []).append(state.item.id)
        return found

    def reset(self) -> None:
        """Forget truths and memories; waived items stay waived."""
        self._required_times.reset()
        for state in self.states.values():
            state.truth, state.previous_truth, state.status = None, None, ItemStatus.NO_DATA
            state.last_met_s, state.confirmed_by, state.unverifiable_reported = None, "", False
            state.last_change = None
            state.since_s, state.version = self._context.sim_s, self._context.version
            if state.item.waived:
                state.waived, state.waived_by = state.item.waived, TRIP_SHEET
            self._update_monitors(state)

    def start_at(self, sim_s: float) -> None:
        """Count the present truths from this time on."""
        for state in self.states.values():
            state.since_s, state.version = sim_s, self._context.version

    def begin_waivers(self) -> None:
        """Begin, at the first frame, the waivers of the trip sheet and those that were requested before it."""
        for state in self.states.values():
            if state.waived and state.waived_s is None:
                self._begin_waiver(state)

    def update(self, ids: Iterable[str]) -> list[ItemChange]:
        """Evaluate these items again; other ids are ignored.

        Returns:
            One change for each item whose verdict or status changed, in the pack's order.
        """
        ids = set(ids)
        for item, since_s in self._required_times.update(ids):
            if self._context.sim_s - since_s >= self.states[item].item.clear_s:
                self.states[item].last_met_s = self._context.sim_s
        states = sorted((self.states[i] for i in ids if i in self.states), key=attrgetter("position"))
        return [change for state in states if (change := self._update_item(state)) is not None]

    def renew_unknown(self) -> list[str]:
        """Stamp the unknown items, because the reason may be another one now; gives their ids."""
        unknown = [state for state in self.states.values() if state.truth is None]
        for state in unknown:
            state.version = self._context.version
        return [state.item.id for state in unknown]

    def undo_change(self, change: ItemChange, at_s: float) -> ItemChange | None:
        """Undo a change of `at_s`, if the item has not changed since and has its old truth again.

        Returns:
            The change back, with a duration of 0; None where nothing was undone.
        """
        state, old_truth = change.state, change.state.truth
        if (
            old_truth is change.old_truth
            or state.since_s != at_s
            or self._truth(state) is not change.old_truth
        ):
            return None
        state.truth, state.previous_truth, state.since_s = (
            change.old_truth,
            change.previous_truth,
            change.since_s,
        )
        state.last_met_s, state.last_change = change.last_met_s, None
        state.status = self._status(state)
        state.version = self._context.version
        self._emit_verdict(state)
        return ItemChange(state, old_truth, at_s, 0.0)

    def confirm(self, state: ItemState, seat: str) -> None:
        """Confirm an item for a seat."""
        state.confirmed_by = seat
        state.version = self._context.version
        self._update_monitors(state)

    def waive(self, state: ItemState, reason: str, by: str, *, pending: bool = False) -> None:
        """Waive an item for this flight; where it is `pending`, its waiver begins with the first frame."""
        state.waived, state.waived_by = reason, by
        state.version = self._context.version
        self._update_monitors(state)
        if not pending:
            self._begin_waiver(state)

    def undo_waiver(self, state: ItemState, reason: str, by: str) -> None:
        """Undo the waiver of an item; the next step judges it by what was seen all the time."""
        if state.waived_s is not None:
            self._context.emit(
                WaiverUndone(self._context.sim_s, state.item.id, reason, by, waived_s=state.waived_s)
            )
        state.waived, state.waived_by, state.waived_s = "", "", None
        state.unverifiable_reported = False
        state.version = self._context.version
        if state.item.condition is None:
            self._update_monitors(state)
        else:
            self._context.monitors.clear_item_truth(state.item.id)

    def unverify(self, ids: Iterable[str]) -> list[str]:
        """Treat these items as never met; those that were confirmed are open again.

        Returns:
            Ids of those that were confirmed.
        """
        reopened = []
        for state in (self.states[i] for i in dict.fromkeys(ids)):
            state.last_met_s, state.unverifiable_reported, state.last_change = None, False, None
            self._required_times.restart(state.id)
            state.since_s = self._context.sim_s
            state.version = self._context.version
            if state.confirmed_by:
                state.confirmed_by = ""
                self._update_monitors(state)
                reopened.append(state.item.id)
        return reopened

    def waiver_text(self, state: ItemState) -> str:
        """The reason for which an item is waived, with who waived it, for screens; '' where it is not waived."""
        by = self._context.pack.seats.get(state.waived_by, state.waived_by)
        return f"{state.waived} ({by})" if by else state.waived

    def reason(self, state: ItemState) -> Reason:
        """Reason for the item's truth."""
        item = state.item
        if state.waived:
            return Reason(None, f"waived: {self.waiver_text(state)}", actual="waived")
        if item.condition is not None:
            return self._context.monitors.explain(item.id)
        if not state.confirmed_by:
            sentence = f"{item.confirm}: not confirmed"
            return Reason(truth=False, sentence=sentence, actual="not confirmed", wanted="confirmed")
        seat = self._context.pack.seats.get(state.confirmed_by, state.confirmed_by)
        sentence = f"{item.confirm}: confirmed by {seat}"
        return Reason(truth=True, sentence=sentence, actual="confirmed", wanted="confirmed")

    def unknown_reason(self, state: ItemState) -> UnknownReason:
        """Reason for which the item is unknown; only valid for an unknown item."""
        if self._nothing_judged_is_sent(state):
            return UnknownReason.NO_DATA
        faulty = isinstance(state.item.condition, FaultyCondition)
        calls_unknown = not all(map(self._context.monitors.is_call_known, state.calls))
        reason = self.reason(state)
        return unknown_reason(
            self._context,
            reason.signals or state.signals,
            faulty=faulty or calls_unknown,
            data_missing=reason.data_missing,
        )

    def _nothing_judged_is_sent(self, state: ItemState) -> bool:
        """True if none of the signals that the item judges was ever sent; those that say when it applies do not count."""
        return bool(state.subjects) and all(
            self._context.state.sample(name).quality is Quality.ABSENT for name in state.subjects
        )

    def _update_item(self, state: ItemState) -> ItemChange | None:
        """Evaluate one item."""
        now_s, old_truth, old_status = self._context.sim_s, state.truth, state.status
        waiver_ended = old_status is ItemStatus.WAIVED and not state.waived
        if old_truth is None and state.last_change is not None:
            # What was unknown for no simulated time, as in a stall of the sender, is as it was.
            resumed = self.undo_change(state.last_change, now_s)
            if resumed is not None:
                return resumed._replace(waiver_ended=waiver_ended)
        truth = self._truth(state)
        change = ItemChange(
            state,
            old_truth,
            state.since_s,
            now_s - state.since_s,
            state.previous_truth,
            state.last_met_s,
            waiver_ended=waiver_ended,
        )
        if truth is not old_truth:
            if state.met_long_enough(now_s) and not self._required_times.covers(state.id):
                state.last_met_s = now_s
            state.previous_truth, state.truth, state.since_s = old_truth, truth, now_s
            state.last_change = change
        state.status = self._status(state)
        if truth is old_truth and state.status is old_status:
            # Another reason for an unknown truth matters to the gates, but changes no verdict.
            return change if truth is None else None
        state.version = self._context.version
        self._emit_verdict(state)
        return change

    def _begin_waiver(self, state: ItemState) -> None:
        """Note since when an item is waived, and emit it."""
        state.waived_s = self._context.sim_s
        self._context.emit(WaiverBegun(state.waived_s, state.item.id, state.waived, state.waived_by))

    def _emit_verdict(self, state: ItemState) -> None:
        """Emit the item's verdict."""
        reason = self.reason(state)
        self._context.emit(
            VerdictChanged(
                self._context.sim_s,
                state.item.id,
                verdict_of(state.truth),
                state.status,
                "waived" if state.waived else reason.sentence,
                reason.actual,
                reason.wanted,
                state.waived,
                state.waived_by,
                ""
                if state.waived
                else own_sentence(state.item, state.truth, self._context.state, reason.entry_error),
            )
        )

    def _truth(self, state: ItemState) -> Truth:
        """Truth of an item; a confirmation counts only where it has no condition."""
        if state.item.condition is None:
            return bool(state.confirmed_by)
        return None if state.item.waived else self._context.monitors.truth(state.item.id)

    def _status(self, state: ItemState) -> ItemStatus:
        """Status of an item."""
        if state.waived:
            return ItemStatus.WAIVED
        if state.truth is True:
            return ItemStatus.CONFIRMED if state.item.condition is None else ItemStatus.MET
        if state.truth is None:
            without_data = self.unknown_reason(state) in WITHOUT_DATA
            return ItemStatus.NO_DATA if without_data else ItemStatus.UNKNOWN
        return ItemStatus.OPEN if state.last_met_s is None else ItemStatus.LOST

    def _update_monitors(self, state: ItemState) -> None:
        """Give the monitors the truth of an item without a condition, or that is waived."""
        if state.item.condition is None or state.waived:
            self._context.monitors.set_item_truth(state.item.id, bool(state.confirmed_by or state.waived))
