"""Watches: limits that must hold while their condition applies, independent of gates.

A watch of which it is unknown whether it applies keeps its open finding, unless all that can be seen of the condition is
false (`visible_truth.py`).

Takes: the ids of conditions whose truth changed.  Gives: findings that open after the watch's hold, and close when it
holds again for its clear time or no longer applies.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import NamedTuple

from rules.judge.condition_ids import applies_id, expect_id, part_ids
from rules.judge.context import JudgeContext
from rules.judge.events import ItemStatus, Verdict, VerdictChanged
from rules.judge.findings import FindingKey, FindingLog, RuleKind
from rules.judge.items import WITHOUT_DATA, unknown_reason
from rules.judge.own_sentences import own_sentence
from rules.judge.snapshot import WatchStatus
from rules.judge.visible_truth import VisibleParts
from rules.language.checked_tree import FaultyCondition
from rules.language.truth import Reason, Truth
from rules.packs.model import Watch

_VERDICT_OF = {
    WatchStatus.NOT_APPLICABLE: Verdict.MET,
    WatchStatus.HOLDS: Verdict.MET,
    WatchStatus.VIOLATED: Verdict.UNMET,
    WatchStatus.UNKNOWN: Verdict.UNKNOWN,
}


@dataclass(slots=True)
class WatchState:
    """State of one watch; `since_s` is when it got its status.

    `suspended_finding` is the finding that closed because the watch did not apply any more, 0 once it has held since.  `version` is
    that of the context in which the status changed last, by `last_change`.
    """

    watch: Watch
    status: WatchStatus = WatchStatus.NOT_APPLICABLE
    since_s: float = 0.0
    suspended_finding: int = 0
    version: int = 0
    last_change: WatchChange | None = None

    @property
    def truth(self) -> Truth:
        """Truth of what it expects; None while it does not apply or is unknown."""
        return {WatchStatus.HOLDS: True, WatchStatus.VIOLATED: False}.get(self.status)

    @property
    def finding_key(self) -> FindingKey:
        """Key of its finding."""
        return FindingKey(RuleKind.WATCH, "", self.watch.id)


class WatchChange(NamedTuple):
    """Change of a watch's status, with the state before."""

    state: WatchState
    old_status: WatchStatus
    old_since_s: float
    suspended_finding: int


class Watches:
    """All watches of the pack, in the pack's order."""

    def __init__(self, context: JudgeContext, finding_log: FindingLog) -> None:
        self._context = context
        self._finding_log = finding_log
        self.states = {watch.id: WatchState(watch) for watch in context.pack.watches}
        self._position_of = {
            i: position for position, watch in enumerate(context.pack.watches) for i in _condition_ids(watch)
        }
        self._visible = VisibleParts(context)
        self._in_order = tuple(self.states.values())

    def reset(self) -> None:
        """Forget all states."""
        for state in self.states.values():
            state.status, state.since_s, state.suspended_finding = (
                WatchStatus.NOT_APPLICABLE,
                self._context.sim_s,
                0,
            )
            state.last_change = None
            state.version = self._context.version

    def step(self, changed: Collection[str], *, full: bool = False) -> list[WatchChange]:
        """Evaluate the watches whose conditions changed, or all of them when the phase changed.

        Returns:
            The watches whose status changed.
        """
        if full:
            positions: Iterable[int] = range(len(self._in_order))
        else:
            positions = sorted({self._position_of[i] for i in changed if i in self._position_of})
        states = [self._in_order[position] for position in positions]
        return [change for state in states if (change := self._update_watch(state)) is not None]

    def renew_unknown(self) -> list[str]:
        """Stamp the unknown watches, because the reason may be another one now; gives their ids."""
        unknown = [state for state in self.states.values() if state.status is WatchStatus.UNKNOWN]
        for state in unknown:
            state.version = self._context.version
        return [state.watch.id for state in unknown]

    def undo_change(self, change: WatchChange, at_s: float) -> bool:
        """Undo a change of `at_s`, if the watch has not changed since and has its old status again."""
        state = change.state
        if state.since_s != at_s or self._evaluate(state.watch) is not change.old_status:
            return False
        self._context.timers.cancel(_timer_key(state))
        state.status, state.since_s, state.suspended_finding = (
            change.old_status,
            change.old_since_s,
            change.suspended_finding,
        )
        state.last_change = None
        state.version = self._context.version
        self._emit_verdict(state)
        return True

    def resume_timer(self, change: WatchChange) -> None:
        """Set the timer of a watch again whose change was undone."""
        self._start_timer(change.state)

    def is_violated(self, name: str) -> bool:
        """True if a watch applies and does not hold."""
        return self.states[name].status is WatchStatus.VIOLATED

    def timer_elapsed(self, name: str) -> None:
        """Open or close the finding of a watch at the end of its hold or clear time."""
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
        """Evaluate one watch."""
        status = self._evaluate(state.watch)
        if status is state.status:
            self._close_if_nothing_applies(state)
            return None
        change = WatchChange(state, state.status, state.since_s, state.suspended_finding)
        if state.status is WatchStatus.UNKNOWN and self._resume(state, status):
            return change
        self._close_if_cleared(state)
        state.status, state.since_s, state.last_change = status, self._context.sim_s, change
        state.version = self._context.version
        self._emit_verdict(state)
        self._start_timer(state)
        return change

    def _resume(self, state: WatchState, status: WatchStatus) -> bool:
        """Restore a watch that was unknown for no simulated time, as in a stall of the sender; its timer still runs."""
        last = state.last_change
        if last is None or state.since_s != self._context.sim_s or last.old_status is not status:
            return False
        state.status, state.since_s, state.last_change = status, last.old_since_s, None
        state.suspended_finding = last.suspended_finding
        state.version = self._context.version
        self._emit_verdict(state)
        return True

    def _close_if_cleared(self, state: WatchState) -> None:
        """Close the finding of a watch that has held for its clear time when that ends."""
        held_s = self._context.sim_s - state.since_s
        opened = self._finding_log.open_finding(state.finding_key)
        if state.status is WatchStatus.HOLDS and opened is not None and held_s >= state.watch.clear_s:
            self._finding_log.close(opened.number, state.since_s)

    def _start_timer(self, state: WatchState) -> None:
        """Start the timer of the new status."""
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
        self._close_if_nothing_applies(state)

    def _close_if_nothing_applies(self, state: WatchState) -> None:
        """Close the finding of a watch that may apply only because of what is never known.

        What makes it apply was seen when the finding opened, and is seen not to be so any more.
        """
        opened = self._finding_log.open_finding(state.finding_key)
        applies = state.watch.applies
        if opened is None or applies is None or state.status is not WatchStatus.UNKNOWN:
            return
        if self._visible.truth(applies).truth is False:
            self._finding_log.close(opened.number, self._context.sim_s, corrected=False)
            state.suspended_finding = opened.number
            state.version = self._context.version

    def _evaluate(self, watch: Watch) -> WatchStatus:
        """Status of a watch by phase and conditions."""
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
        """Emit the watch's verdict."""
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
                own_sentence=own_sentence(state.watch, state.truth, self._context.state, reason.entry_error),
            )
        )

    def _item_status(self, state: WatchState, reason: Reason) -> ItemStatus:
        """Status of a watch as an item has it."""
        if state.status is WatchStatus.UNKNOWN:
            faulty = isinstance(state.watch.expect, FaultyCondition)
            unknown = unknown_reason(
                self._context, reason.signals, faulty=faulty, data_missing=reason.data_missing
            )
            return ItemStatus.NO_DATA if unknown in WITHOUT_DATA else ItemStatus.UNKNOWN
        return ItemStatus.OPEN if state.status is WatchStatus.VIOLATED else ItemStatus.MET


def _condition_ids(watch: Watch) -> list[str]:
    """Ids of the conditions of a watch, and of the parts of the one under which it applies."""
    applies = applies_id(watch.id)
    parts = part_ids(applies, watch.applies) if watch.applies is not None else ()
    return [applies, *parts, expect_id(watch.id)]


def _timer_key(state: WatchState) -> tuple[str, str, str]:
    """Key of the timer of a watch's hold and clear time."""
    return "watch", "", state.watch.id
