"""Watches: limits that must hold while something is so, whatever the gate.

Takes: the ids whose truth changed.  Gives: findings that open after the watch's hold and close when it holds again for
long enough, or does not apply any more.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from rules.judge.entries import Life, Verdict, VerdictChanged
from rules.judge.findings import About, Family, Ledger
from rules.judge.items import Doubt, doubt_of
from rules.judge.session import Session, applies_id, expect_id
from rules.language.checked import Broken
from rules.language.truth import Reason
from rules.packs.model import Watch


class Standing(StrEnum):
    """Where a watch stands now."""

    APART = "does not apply"
    HOLDS = "holds"
    BROKEN = "does not hold"
    UNKNOWN = "cannot tell"


_VERDICTS = {
    Standing.APART: Verdict.MET,
    Standing.HOLDS: Verdict.MET,
    Standing.BROKEN: Verdict.UNMET,
    Standing.UNKNOWN: Verdict.UNKNOWN,
}


@dataclass(slots=True)
class WatchState:
    """One watch now; `since_s` is when it came to stand so.

    `unmended` is the finding that closed because the watch did not apply any more, 0 once it has held since.
    """

    watch: Watch
    standing: Standing = Standing.APART
    since_s: float = 0.0
    unmended: int = 0

    @property
    def about(self) -> About:
        """What its finding is about."""
        return About(Family.WATCH, "", self.watch.id)


class Turn(NamedTuple):
    """A watch that came to stand otherwise, and what it was."""

    state: WatchState
    standing: Standing
    since_s: float
    unmended: int


class Watches:
    """Every watch of the pack, in the pack's order."""

    def __init__(self, session: Session, ledger: Ledger) -> None:
        """None applies before the first frame."""
        self._session = session
        self._ledger = ledger
        self.states = {watch.id: WatchState(watch) for watch in session.pack.watches}
        self._by_id = {
            i: order
            for order, watch in enumerate(session.pack.watches)
            for i in (applies_id(watch.id), expect_id(watch.id))
        }
        self._in_order = tuple(self.states.values())

    def begin(self) -> None:
        """Forget how they stood."""
        for state in self.states.values():
            state.standing, state.since_s, state.unmended = Standing.APART, self._session.sim_s, 0

    def look(self, changed: Collection[str], *, everywhere: bool = False) -> list[Turn]:
        """Look at those whose conditions changed, or at all of them when the phase did.

        Returns:
            Those that came to stand otherwise.
        """
        if everywhere:
            orders: Iterable[int] = range(len(self._in_order))
        else:
            orders = sorted({self._by_id[i] for i in changed if i in self._by_id})
        states = [self._in_order[order] for order in orders]
        return [turn for state in states if (turn := self._look(state)) is not None]

    def take_back(self, turn: Turn, at_s: float) -> bool:
        """Let a turn of `at_s` not have been, where the watch has not turned since and stands again as it did."""
        state = turn.state
        if state.since_s != at_s or self._standing(state.watch) is not turn.standing:
            return False
        self._session.timers.drop(_key(state))
        state.standing, state.since_s, state.unmended = turn.standing, turn.since_s, turn.unmended
        self._say(state)
        return True

    def go_on(self, turn: Turn) -> None:
        """Let a turn that was taken back wait again for what it waited for."""
        self._arrive(turn.state)

    def broken(self, name: str) -> bool:
        """Whether a watch applies and does not hold."""
        return self.states[name].standing is Standing.BROKEN

    def due(self, name: str) -> None:
        """A watch has not held for its hold, or has held again for its clear time."""
        state = self.states[name]
        opened = self._ledger.of(state.about)
        if state.standing is Standing.BROKEN and opened is None:
            reason = self._session.monitors.explain(expect_id(name))
            if state.unmended:
                self._ledger.reopen(state.about, state.unmended)
                state.unmended = 0
            else:
                self._ledger.open(state.about, state.watch.finding, state.watch, reason)
        elif state.standing is Standing.HOLDS and opened is not None:
            self._ledger.mend(opened.number, state.since_s)

    def _look(self, state: WatchState) -> Turn | None:
        """Take in how a watch stands now."""
        standing = self._standing(state.watch)
        if standing is state.standing:
            return None
        turn = Turn(state, state.standing, state.since_s, state.unmended)
        self._leave(state)
        state.standing, state.since_s = standing, self._session.sim_s
        self._say(state)
        self._arrive(state)
        return turn

    def _leave(self, state: WatchState) -> None:
        """What the time that ends here has shown: it held for long enough, so it was mended."""
        held_s = self._session.sim_s - state.since_s
        opened = self._ledger.of(state.about)
        if state.standing is Standing.HOLDS and opened is not None and held_s >= state.watch.clear_s:
            self._ledger.mend(opened.number, state.since_s)

    def _arrive(self, state: WatchState) -> None:
        """Begin what the new standing calls for."""
        opened = self._ledger.of(state.about)
        if state.standing is Standing.BROKEN and opened is None:
            self._session.timers.set(_key(state), state.since_s + state.watch.hold_s)
        elif state.standing is Standing.HOLDS and opened is not None:
            self._session.timers.set(_key(state), state.since_s + state.watch.clear_s)
        elif state.standing is Standing.APART and opened is not None:
            self._ledger.mend(opened.number, self._session.sim_s, done=False)
            state.unmended = opened.number
        if state.standing is Standing.HOLDS:
            state.unmended = 0

    def _standing(self, watch: Watch) -> Standing:
        """How the watch stands, from phase and conditions."""
        monitors = self._session.monitors
        if watch.phases and self._session.phase not in watch.phases:
            return Standing.APART
        applies = True if watch.applies is None else monitors.truth(applies_id(watch.id))
        if applies is False:
            return Standing.APART
        holds = monitors.truth(expect_id(watch.id))
        if holds:
            return Standing.HOLDS
        return Standing.UNKNOWN if holds is None or applies is None else Standing.BROKEN

    def _say(self, state: WatchState) -> None:
        """Put the watch's verdict on the record."""
        if state.standing is Standing.APART:
            reason = Reason(truth=None, sentence=str(state.standing))
        else:
            reason = self._session.monitors.explain(expect_id(state.watch.id))
        self._session.say(
            VerdictChanged(
                self._session.sim_s,
                state.watch.id,
                _VERDICTS[state.standing],
                self._life(state, reason),
                reason.sentence,
                reason.actual,
                reason.wanted,
            )
        )

    def _life(self, state: WatchState, reason: Reason) -> Life:
        """Where the watch stands in its life."""
        if state.standing is Standing.UNKNOWN:
            broken = isinstance(state.watch.expect, Broken)
            doubt = doubt_of(self._session, reason.signals, broken=broken)
            return Life.NO_DATA if doubt is Doubt.NO_DATA else Life.OPEN
        return Life.OPEN if state.standing is Standing.BROKEN else Life.MET


def _key(state: WatchState) -> tuple[str, str, str]:
    """The timer of a watch's hold and clear."""
    return "watch", "", state.watch.id
