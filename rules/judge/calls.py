"""Calls: when each was made, what it changed, and how it is taken back.

Taken back is: the call itself, what items and watches became by it, findings that it opened, and the closing of those
that it closed.  What has happened in the meantime stays: a phase that was entered is not left, and a notice that was
said is not unsaid.

Takes: calls as they are entered, what changed in that step.  Gives: the state as if the call had not been made.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from rules.judge.asked import not_called
from rules.judge.entries import CallEntered, Finding
from rules.judge.findings import About, Family, Ledger
from rules.judge.gates import Gates
from rules.judge.items import Change, Items
from rules.judge.order import Order
from rules.judge.session import Session, applies_id, expect_id
from rules.judge.watches import Turn, Watches
from rules.packs.model import FindingKind


class Did(NamedTuple):
    """What a step has changed: items and watches."""

    changes: Sequence[Change]
    turns: Sequence[Turn]


class Before(NamedTuple):
    """How it was before a call: since when each gate was cued, and how many findings there were."""

    cues: Mapping[str, float]
    findings: int


@dataclass(frozen=True, slots=True)
class Spoken:
    """One making of a call: when, in which phase, what its step changed, and how it was before.

    `moves` counts the phases that were entered by the end of its step.
    """

    sim_s: float
    phase: str
    did: Did
    before: Before
    moves: int


class Calls:
    """The calls that stand, each with its makings, oldest first."""

    def __init__(self, session: Session) -> None:
        """Nothing said yet."""
        self._session = session
        self._made: dict[str, list[Spoken]] = {}
        self._count = 0
        self._unheard = not session.monitors.calls_heard

    def begin(self, calls: Sequence[CallEntered]) -> None:
        """Calls are being made: those of a round that is over do not stand any more."""
        for call in calls:
            if self._session.called.pop(call.call, None) is None:
                self._made.pop(call.call, None)

    def note(self, calls: Sequence[CallEntered], did: Did, before: Before) -> None:
        """Remember what calls have changed, now that their step is over."""
        session = self._session
        for call in calls:
            spoken = Spoken(session.sim_s, session.phase, did, before, session.moves)
            self._made.setdefault(call.call, []).append(spoken)
            session.called[call.call] = session.phase
        self._count += len(calls)

    def take(self, name: str) -> Spoken:
        """Let the latest making of a call not have been.

        Raises:
            InputFaults: It was not made, or does not stand any more.
        """
        called = self._session.called
        if name not in called:
            raise not_called(name, called)
        made = self._made[name]
        spoken = made.pop()
        self._count -= 1
        if made:
            called[name] = made[-1].phase
        else:
            del called[name]
        return spoken

    @property
    def none(self) -> bool:
        """Whether no call is left, and none was expected: nobody knows then whether calls are entered."""
        return self._unheard and not self._count


class Retraction:
    """What the parts of the judge do about a call that is taken back, in the order in which a step goes."""

    def __init__(
        self, session: Session, items: Items, watches: Watches, order: Order, gates: Gates, ledger: Ledger
    ) -> None:
        """Knows all the parts."""
        self._session = session
        self._items = items
        self._watches = watches
        self._order = order
        self._gates = gates
        self._ledger = ledger

    def items(self, spoken: Spoken) -> list[Change]:
        """Items that are again what they were before the call, with their memory."""
        back = (self._items.take_back(change, spoken.sim_s) for change in spoken.did.changes)
        undone = [change for change in back if change is not None]
        self._bring_back(spoken)
        self._order.look_back(spoken.sim_s)
        return undone

    def watches(self, spoken: Spoken) -> None:
        """Watches that stand again as before the call."""
        back = [turn for turn in spoken.did.turns if self._watches.take_back(turn, spoken.sim_s)]
        self._bring_back(spoken)
        for turn in back:
            self._watches.go_on(turn)

    def gates(self, spoken: Spoken, cued: Collection[str], changed: Collection[str]) -> None:
        """Cues that are given again were given before; what only this call has brought about is no error.

        Args:
            spoken: The call.
            cued: The gates that were cued when the retraction began.
            changed: The conditions whose truth the retraction has changed.
        """
        self._gates.take_back(spoken.before.cues, changed)
        gone = set(cued) - self._session.cued
        for about, finding in self._ledger.opened_since(spoken.before.findings):
            if self._void(about, gone, changed):
                self._ledger.take_back(about, finding)

    def _void(self, about: About, gone: Collection[str], changed: Collection[str]) -> bool:
        """Whether what was found has lost its ground by the retraction itself."""
        if about.family is Family.NEED:
            return about.gate in gone or (about.item in changed and self._items.states[about.item].good)
        if about.family is Family.WATCH:
            ids = {applies_id(about.item), expect_id(about.item)}
            return not ids.isdisjoint(changed) and not self._watches.broken(about.item)
        return False

    def _bring_back(self, spoken: Spoken) -> None:
        """Open again what was found before the call and closed by it, unless the flight has gone on."""
        if self._session.moves != spoken.moves:
            return
        for about, finding in self._ledger.closed_since(spoken.before.findings, spoken.sim_s):
            if self._stands(about, finding) and self._ledger.of(about) is None:
                self._ledger.reopen(about, finding.number)

    def _stands(self, about: About, finding: Finding) -> bool:
        """Whether a finding that was closed is so again."""
        if about.family is Family.NEED:
            state = self._items.states[about.item]
            return finding.kind is not FindingKind.NOT_VERIFIABLE and state.truth is False and not state.good
        if about.family is Family.WATCH:
            return self._watches.broken(about.item)
        return self._order.stands_against(about)
