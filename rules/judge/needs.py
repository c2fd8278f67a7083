"""Needs: what a cued gate finds open, and when it is mended.

A need that is not met at the cue, or is lost after it, becomes a finding once it has been so for the item's hold; at
the entry at once.  What changes in the very sample that makes the entry counts in the crew's favour.

Takes: cues, entries, changes of items.  Gives: findings through the ledger.
"""

from __future__ import annotations

from rules.judge.entries import Finding
from rules.judge.findings import About, Family, Ledger
from rules.judge.items import Change, Doubt, Items, ItemState
from rules.judge.session import Session
from rules.judge.traces import Traces
from rules.language.truth import Reason, Truth
from rules.packs.model import FindingKind, Gate, Level


class Needs:
    """The needs of all gates."""

    def __init__(self, session: Session, items: Items, traces: Traces, ledger: Ledger) -> None:
        """No gate is cued."""
        self._session = session
        self._items = items
        self._traces = traces
        self._ledger = ledger
        self._gates_of: dict[str, list[str]] = {}
        self.since_s: dict[str, float] = {}
        for gate in session.pack.gates:
            for item in gate.needs:
                self._gates_of.setdefault(item, []).append(gate.id)

    def states(self, gate: Gate) -> list[ItemState]:
        """The gate's needs, in its order."""
        return [self._items.states[item] for item in dict.fromkeys(gate.needs)]

    def gates_of(self, item: str) -> list[str]:
        """The gates that need an item, in the pack's order."""
        return self._gates_of.get(item, [])

    def cue(self, gate: Gate) -> int:
        """The crew is about to go.

        Returns:
            How many needs stand open.
        """
        for state in self.states(gate):
            self._begin_hold(gate.id, state)
        return len(self.open_needs(gate))

    def withdraw(self, gate: Gate) -> None:
        """The cue is gone, or the gate is out of play: what waits is dropped, what was found stays."""
        for item in gate.needs:
            self._session.timers.drop(("hold", gate.id, item))

    def open_needs(self, gate: Gate) -> list[ItemState]:
        """The needs that are not met, without those for which there is no data."""
        return [s for s in self.states(gate) if not s.good and not self._without_data(s)]

    def changed(self, change: Change) -> None:
        """An item changed: begin its hold where it is needed, or its clear time where it was found open."""
        state, item = change.state, change.state.item
        found = self._ledger.open_on(item.id, Family.NEED)
        if change.was is True and state.truth is not True and change.ran_s >= item.clear_s:
            self._ledger.mend_all(found, change.since_s)
            found = []
        if state.truth is True:
            self._mend_soon(state, found)
            return
        self._session.timers.drop(("clear", "", item.id))
        if state.truth is False:
            verifiable = [f for f in found if f.kind is FindingKind.NOT_VERIFIABLE]
            self._ledger.mend_all(verifiable, self._session.sim_s)
        for gate in self.gates_of(item.id):
            if gate in self._session.cued:
                self._begin_hold(gate, state, anew=state.truth is not change.was)

    def excused(self, state: ItemState) -> None:
        """An item was excused: nothing waits for it, and what was found is closed."""
        for gate in self.gates_of(state.item.id):
            self._session.timers.drop(("hold", gate, state.item.id))
        found = self._ledger.open_on(state.item.id, Family.NEED)
        self._ledger.mend_all(found, self._session.sim_s, done=False)

    def due_hold(self, gate: str, item: str) -> None:
        """An item has been open for its hold while its gate is cued."""
        state = self._items.states[item]
        if gate in self._session.cued and not state.good:
            self._find(self._session.gates[gate], state, state.truth, entering=False)

    def due_clear(self, item: str) -> None:
        """An item has been met for its clear time."""
        state = self._items.states[item]
        self._ledger.mend_all(self._ledger.open_on(item, Family.NEED), state.since_s)

    def enter(self, gate: Gate) -> int:
        """They went: what is still open opens at once, and what is met is mended, however short.

        Returns:
            How many findings are carried into the phase.
        """
        for state in self.states(gate):
            truth = state.truth
            found = self._ledger.of(About(Family.NEED, gate.id, state.item.id))
            if truth is True and found is not None:
                self._ledger.mend(found.number, state.since_s)
            if state.since_s == self._session.sim_s and state.before is True:
                truth = True
            if truth is not True and not state.excused:
                self._find(gate, state, truth, entering=True)
        return self._ledger.enter(gate.id)

    def _begin_hold(self, gate: str, state: ItemState, *, anew: bool = False) -> None:
        """Let an open need become a finding after its hold; a hold that runs goes on unless `anew`."""
        key = ("hold", gate, state.item.id)
        if state.good or self._ledger.of(About(Family.NEED, gate, state.item.id)) is not None:
            return
        if anew or not self._session.timers.waiting(key):
            self._session.timers.set(key, self._session.sim_s + state.item.hold_s)

    def _mend_soon(self, state: ItemState, found: list[Finding]) -> None:
        """The item is met: drop its holds, and close what was found once it has been met for its clear time."""
        for gate in self.gates_of(state.item.id):
            self._session.timers.drop(("hold", gate, state.item.id))
        if found:
            due_s = self._session.sim_s + state.item.clear_s
            self._session.timers.set(("clear", "", state.item.id), due_s)

    def _find(self, gate: Gate, state: ItemState, truth: Truth, *, entering: bool) -> None:
        """Open a finding, unless there is one, or it cannot be told that the item is open."""
        about = About(Family.NEED, gate.id, state.item.id)
        if self._ledger.of(about) is not None:
            return
        doubt = self._items.doubt(state) if truth is None else None
        if doubt is Doubt.NO_DATA or (doubt is Doubt.PENDING and not entering):
            return
        if doubt is Doubt.STALE:
            self._find_unverifiable(about, state, entering=entering)
            return
        standing = self._ledger.standing(state.item.id)
        if standing is not None and standing.kind is not FindingKind.NOT_VERIFIABLE:
            self._ledger.find_again(standing, gate.id)
            return
        reason = self._items.reason(state)
        again = self._was_met(gate.id, state)
        kind = self._kind(state, reason, again=again)
        self._ledger.open(
            about,
            kind,
            state.item,
            reason,
            again=again,
            entering=entering,
            may_be_late=entering and kind is FindingKind.OMITTED and state.item.finding is None,
        )

    def _find_unverifiable(self, about: About, state: ItemState, *, entering: bool) -> None:
        """Say once that the item cannot be verified."""
        if state.doubted:
            return
        state.doubted = True
        reason = self._items.reason(state)
        kind = FindingKind.NOT_VERIFIABLE
        self._ledger.open(about, kind, state.item, reason, level=Level.ADVISORY, entering=entering)

    def _kind(self, state: ItemState, reason: Reason, *, again: bool) -> FindingKind:
        """What went wrong with a need that is not met."""
        if state.item.finding is not None:
            return state.item.finding
        if again:
            return FindingKind.UNDONE
        if self._traces.moved(state.values.intersection(reason.signals)):
            return FindingKind.WRONG_VALUE
        return FindingKind.OMITTED

    def _was_met(self, gate: str, state: ItemState) -> bool:
        """Whether it has been met since the gate came into play."""
        return state.last_met_s is not None and state.last_met_s >= self.since_s.get(gate, 0.0)

    def _without_data(self, state: ItemState) -> bool:
        """Whether nobody ever sent what the item reads."""
        return state.truth is None and self._items.doubt(state) is Doubt.NO_DATA
