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

from rules.judge.atoms import calls_heard, signals_read, value_signals
from rules.judge.entries import Life, Verdict, VerdictChanged
from rules.judge.session import Session
from rules.language.checked import Broken
from rules.language.truth import Reason, Truth
from rules.packs.model import Item
from rules.signals.model import Quality


class Doubt(Enum):
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
    order: int
    reads: frozenset[str]
    values: frozenset[str]
    waits_for_call: bool = False
    truth: Truth = None
    before: Truth = None
    life: Life = Life.NO_DATA
    since_s: float = 0.0
    last_met_s: float | None = None
    confirmed_by: str = ""
    excused: str = ""
    doubted: bool = False

    @property
    def good(self) -> bool:
        """Whether it stands in nobody's way: met, confirmed or excused."""
        return self.truth is True or bool(self.excused)

    def met_long_enough(self, sim_s: float) -> bool:
        """Whether the present time of being met has lasted for `clear_s`."""
        return self.truth is True and sim_s - self.since_s >= self.item.clear_s


class Change(NamedTuple):
    """An item whose truth changed, or whose reason for being unknown may have; `ran_s` is how long `was` lasted.

    `before` and `met_s` are what the item's `before` and `last_met_s` were.
    """

    state: ItemState
    was: Truth
    since_s: float
    ran_s: float
    before: Truth = None
    met_s: float | None = None


def verdict_of(truth: Truth) -> Verdict:
    """The word for a truth."""
    if truth is None:
        return Verdict.UNKNOWN
    return Verdict.MET if truth else Verdict.UNMET


def doubt_of(session: Session, signals: Iterable[str], *, broken: bool = False) -> Doubt:
    """Why something that reads these signals is UNKNOWN."""
    qualities = {session.state.sample(name).quality for name in signals}
    if qualities & {Quality.STALE, Quality.INVALID}:
        return Doubt.STALE
    return Doubt.NO_DATA if broken or Quality.ABSENT in qualities else Doubt.PENDING


class Items:
    """Every item of the pack, in the pack's order."""

    def __init__(self, session: Session) -> None:
        """Nothing is known yet; what was dispatched inoperative is excused."""
        self._session = session
        self.states: dict[str, ItemState] = {}
        for order, item in enumerate(session.pack.items.values()):
            reads = signals_read(item.condition) | frozenset(item.signals)
            self.states[item.id] = ItemState(
                item, order, reads, value_signals(item.condition), bool(calls_heard(item.condition))
            )
        self.begin()

    def readers(self) -> dict[str, list[str]]:
        """Per signal the items that read it."""
        found: dict[str, list[str]] = {}
        for state in self.states.values():
            for name in sorted(state.reads):
                found.setdefault(name, []).append(state.item.id)
        return found

    def begin(self) -> None:
        """Forget truths and memories; what the instructor excused stays so."""
        for state in self.states.values():
            state.truth, state.before, state.life = None, None, Life.NO_DATA
            state.last_met_s, state.confirmed_by, state.doubted = None, "", False
            state.since_s = self._session.sim_s
            state.excused = state.item.excused or state.excused
            self._tell_monitors(state)

    def update(self, ids: Iterable[str]) -> list[Change]:
        """Look again at these items (other ids are passed over).

        Returns:
            One change for each item among them whose verdict or life changed, in the pack's order.
        """
        states = sorted((self.states[i] for i in ids if i in self.states), key=attrgetter("order"))
        return [change for state in states if (change := self._look(state)) is not None]

    def take_back(self, change: Change, at_s: float) -> Change | None:
        """Let a change of `at_s` not have been, where the item has not changed since and is again what it was.

        Returns:
            The change back, as if it had lasted no time at all; None where there is nothing to take back.
        """
        state, was = change.state, change.state.truth
        if was is change.was or state.since_s != at_s or self._truth(state) is not change.was:
            return None
        state.truth, state.before, state.since_s = change.was, change.before, change.since_s
        state.last_met_s = change.met_s
        state.life = self._life(state)
        self._say(state)
        return Change(state, was, at_s, 0.0)

    def confirm(self, state: ItemState, seat: str) -> None:
        """The crew says that it is so."""
        state.confirmed_by = seat
        self._tell_monitors(state)

    def excuse(self, state: ItemState, words: str) -> None:
        """It need not be so on this flight."""
        state.excused = words
        self._tell_monitors(state)

    def unverify(self, ids: Iterable[str]) -> list[str]:
        """Let these items stand as if never met; those confirmed are open again.

        Returns:
            The ids of those that were confirmed.
        """
        reopened = []
        for state in (self.states[i] for i in dict.fromkeys(ids)):
            state.last_met_s, state.doubted = None, False
            state.since_s = self._session.sim_s
            if state.confirmed_by:
                state.confirmed_by = ""
                self._tell_monitors(state)
                reopened.append(state.item.id)
        return reopened

    def reason(self, state: ItemState) -> Reason:
        """Why the item is what it is."""
        item = state.item
        if state.excused:
            return Reason(None, f"excused: {state.excused}", actual="excused")
        if item.condition is not None:
            return self._session.monitors.explain(item.id)
        if not state.confirmed_by:
            sentence = f"{item.confirm}: not confirmed"
            return Reason(truth=False, sentence=sentence, actual="not confirmed", wanted="confirmed")
        seat = self._session.pack.seats.get(state.confirmed_by, state.confirmed_by)
        sentence = f"{item.confirm}: confirmed by {seat}"
        return Reason(truth=True, sentence=sentence, actual="confirmed", wanted="confirmed")

    def doubt(self, state: ItemState) -> Doubt:
        """Why the item is UNKNOWN; only where it is."""
        broken = isinstance(state.item.condition, Broken)
        deaf = state.waits_for_call and not self._session.monitors.calls_heard
        return doubt_of(self._session, self.reason(state).signals or state.reads, broken=broken or deaf)

    def _look(self, state: ItemState) -> Change | None:
        """Take in the item's present truth."""
        now_s, was, life = self._session.sim_s, state.truth, state.life
        truth = self._truth(state)
        change = Change(state, was, state.since_s, now_s - state.since_s, state.before, state.last_met_s)
        if truth is not was:
            if state.met_long_enough(now_s):
                state.last_met_s = now_s
            state.before, state.truth, state.since_s = was, truth, now_s
        state.life = self._life(state)
        if truth is was and state.life is life:
            # Unknown for another reason than before is news to a gate, though not to the record.
            return change if truth is None else None
        self._say(state)
        return change

    def _say(self, state: ItemState) -> None:
        """Put the item's verdict on the record."""
        reason = self.reason(state)
        self._session.say(
            VerdictChanged(
                self._session.sim_s,
                state.item.id,
                verdict_of(state.truth),
                state.life,
                reason.sentence,
                reason.actual,
                reason.wanted,
            )
        )

    def _truth(self, state: ItemState) -> Truth:
        """The item's truth from the state; a confirmation counts only where no signal can show it."""
        if state.item.condition is None:
            return bool(state.confirmed_by)
        return None if state.item.excused else self._session.monitors.truth(state.item.id)

    def _life(self, state: ItemState) -> Life:
        """Where the item stands in its life."""
        if state.excused:
            return Life.EXCUSED
        if state.truth is True:
            return Life.CONFIRMED if state.item.condition is None else Life.MET
        if state.truth is None and self.doubt(state) is Doubt.NO_DATA:
            return Life.NO_DATA
        return Life.OPEN if state.last_met_s is None else Life.LOST

    def _tell_monitors(self, state: ItemState) -> None:
        """Tell those conditions that ask whether this item is met."""
        if state.item.condition is None or state.excused:
            self._session.monitors.set_item(state.item.id, bool(state.confirmed_by or state.excused))
