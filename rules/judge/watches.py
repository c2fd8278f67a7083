"""Watches: limits that must hold while something is so, whatever the gate.

Takes: the ids whose truth changed.  Gives: findings that open after the watch's hold and close when it holds again for
long enough, or does not apply any more.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from rules.judge.condition_ids import applies_id, expect_id
from rules.judge.context import JudgeContext
from rules.judge.events import ItemStatus, Verdict, VerdictChanged
from rules.judge.findings import FindingKey, FindingLog, RuleKind
from rules.judge.items import UnknownReason, unknown_reason
from rules.language.checked_tree import FaultyCondition
from rules.language.truth import Reason
from rules.packs.model import Watch


class WatchStatus(StrEnum):
    """Where a watch stands now."""

    NOT_APPLICABLE = "does not apply"
    HOLDS = "holds"
    VIOLATED = "does not hold"
    UNKNOWN = "unknown"


_VERDICT_OF = {
    WatchStatus.NOT_APPLICABLE: Verdict.MET,
    WatchStatus.HOLDS: Verdict.MET,
    WatchStatus.VIOLATED: Verdict.UNMET,
    WatchStatus.UNKNOWN: Verdict.UNKNOWN,
}


@dataclass(slots=True)
class WatchState:
    """One watch now; `since_s` is when it came to stand so.

    `unmended` is the finding that closed because the watch did not apply any more, 0 once it has held since.
    """

    watch: Watch
    status: WatchStatus = WatchStatus.NOT_APPLICABLE
    since_s: float = 0.0
    suspended_finding: int = 0

    @property
    def finding_key(self) -> FindingKey:
        """What its finding is about."""
        return FindingKey(RuleKind.WATCH, "", self.watch.id)


class WatchChange(NamedTuple):
    """A watch that came to stand otherwise, and what it was."""

    state: WatchState
    old_status: WatchStatus
    old_since_s: float
    suspended_finding: int


class Watches:
    """Every watch of the pack, in the pack's order."""

    def __init__(self, context: JudgeContext, finding_log: FindingLog) -> None:
        """None applies before the first frame."""
        self._context = context
        self._finding_log = finding_log
        self.states = {watch.id: WatchState(watch) for watch in context.pack.watches}
        self._position_of = {
            i: order
            for order, watch in enumerate(context.pack.watches)
            for i in (applies_id(watch.id), expect_id(watch.id))
        }
        self._in_order = tuple(self.states.values())

    def reset(self) -> None:
        """Forget how they stood."""
        for state in self.states.values():
            state.status, state.since_s, state.suspended_finding = (
                WatchStatus.NOT_APPLICABLE,
                self._context.sim_s,
                0,
            )

    def step(self, changed: Collection[str], *, full: bool = False) -> list[WatchChange]:
        """Look at those whose conditions changed, or at all of them when the phase did.

        Returns:
            Those that came to stand otherwise.
        """
        if full:
            orders: Iterable[int] = range(len(self._in_order))
        else:
            orders = sorted({self._position_of[i] for i in changed if i in self._position_of})
        states = [self._in_order[order] for order in orders]
        return [turn for state in states if (turn := self._update_watch(state)) is not None]

    def undo_change(self, change: WatchChange, at_s: float) -> bool:
        """Let a turn of `at_s` not have been, where the watch has not turned since and stands again as it did."""
        state = change.state
        if state.since_s != at_s or self._evaluate(state.watch) is not change.old_status:
            return False
        self._context.timers.cancel(_timer_key(state))
        state.status, state.since_s, state.suspended_finding = (
            change.old_status,
            change.old_since_s,
            change.suspended_finding,
        )
        self._emit_verdict(state)
        return True

    def resume_timer(self, change: WatchChange) -> None:
        """Let a turn that was taken back wait again for what it waited for."""
        self._start_timer(change.state)

    def is_violated(self, name: str) -> bool:
        """Whether a watch applies and does not hold."""
        return self.states[name].status is WatchStatus.VIOLATED

    def timer_elapsed(self, name: str) -> None:
        """A watch has not held for its hold, or has held again for its clear time."""
        state = self.states[name]
        opened = self._finding_log.open_finding(state.finding_key)
        if state.status is WatchStatus.VIOLATED and opened is None:
            reason = self._context.monitors.explain(expect_id(name))
            if state.suspended_finding:
                self._finding_log.reopen(state.finding_key, state.suspended_finding)
                state.suspended_finding = 0
            else:
                self._finding_log.open(state.finding_key, state.watch.finding, state.watch, reason)
        elif state.status is WatchStatus.HOLDS and opened is not None:
            self._finding_log.close(opened.number, state.since_s)

    def _update_watch(self, state: WatchState) -> WatchChange | None:
        """Take in how a watch stands now."""
        standing = self._evaluate(state.watch)
        if standing is state.status:
            return None
        turn = WatchChange(state, state.status, state.since_s, state.suspended_finding)
        self._close_if_cleared(state)
        state.status, state.since_s = standing, self._context.sim_s
        self._emit_verdict(state)
        self._start_timer(state)
        return turn

    def _close_if_cleared(self, state: WatchState) -> None:
        """What the time that ends here has shown: it held for long enough, so it was mended."""
        held_s = self._context.sim_s - state.since_s
        opened = self._finding_log.open_finding(state.finding_key)
        if state.status is WatchStatus.HOLDS and opened is not None and held_s >= state.watch.clear_s:
            self._finding_log.close(opened.number, state.since_s)

    def _start_timer(self, state: WatchState) -> None:
        """Begin what the new standing calls for."""
        opened = self._finding_log.open_finding(state.finding_key)
        if state.status is WatchStatus.VIOLATED and opened is None:
            self._context.timers.set(_timer_key(state), state.since_s + state.watch.hold_s)
        elif state.status is WatchStatus.HOLDS and opened is not None:
            self._context.timers.set(_timer_key(state), state.since_s + state.watch.clear_s)
        elif state.status is WatchStatus.NOT_APPLICABLE and opened is not None:
            self._finding_log.close(opened.number, self._context.sim_s, corrected=False)
            state.suspended_finding = opened.number
        if state.status is WatchStatus.HOLDS:
            state.suspended_finding = 0

    def _evaluate(self, watch: Watch) -> WatchStatus:
        """How the watch stands, from phase and conditions."""
        monitors = self._context.monitors
        if watch.phases and self._context.phase not in watch.phases:
            return WatchStatus.NOT_APPLICABLE
        applies = True if watch.applies is None else monitors.truth(applies_id(watch.id))
        if applies is False:
            return WatchStatus.NOT_APPLICABLE
        holds = monitors.truth(expect_id(watch.id))
        if holds:
            return WatchStatus.HOLDS
        return WatchStatus.UNKNOWN if holds is None or applies is None else WatchStatus.VIOLATED

    def _emit_verdict(self, state: WatchState) -> None:
        """Put the watch's verdict on the record."""
        if state.status is WatchStatus.NOT_APPLICABLE:
            reason = Reason(truth=None, sentence=str(state.status))
        else:
            reason = self._context.monitors.explain(expect_id(state.watch.id))
        self._context.emit(
            VerdictChanged(
                self._context.sim_s,
                state.watch.id,
                _VERDICT_OF[state.status],
                self._item_status(state, reason),
                reason.sentence,
                reason.actual,
                reason.wanted,
            )
        )

    def _item_status(self, state: WatchState, reason: Reason) -> ItemStatus:
        """Where the watch stands in its life."""
        if state.status is WatchStatus.UNKNOWN:
            broken = isinstance(state.watch.expect, FaultyCondition)
            doubt = unknown_reason(self._context, reason.signals, broken=broken)
            return ItemStatus.NO_DATA if doubt is UnknownReason.NO_DATA else ItemStatus.OPEN
        return ItemStatus.OPEN if state.status is WatchStatus.VIOLATED else ItemStatus.MET


def _timer_key(state: WatchState) -> tuple[str, str, str]:
    """The timer of a watch's hold and clear."""
    return "watch", "", state.watch.id
