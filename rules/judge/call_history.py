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

from rules.judge.condition_ids import applies_id, expect_id
from rules.judge.context import JudgeContext
from rules.judge.events import CallEntered, Finding
from rules.judge.findings import FindingKey, FindingLog, RuleKind
from rules.judge.gates import Gates
from rules.judge.items import ItemChange, Items
from rules.judge.order_rules import OrderRules
from rules.judge.requests import not_called_error
from rules.judge.watches import WatchChange, Watches
from rules.packs.model import FindingKind


class StepChanges(NamedTuple):
    """What a step has changed: items and watches."""

    items: Sequence[ItemChange]
    watches: Sequence[WatchChange]


class PreCallState(NamedTuple):
    """How it was before a call: since when each gate was cued, and how many findings there were."""

    cued_since: Mapping[str, float]
    finding_count: int


@dataclass(frozen=True, slots=True)
class CallHistoryEntry:
    """One making of a call: when, in which phase, what its step changed, and how it was before.

    `moves` counts the phases that were entered by the end of its step.
    """

    sim_s: float
    phase: str
    changes: StepChanges
    before: PreCallState
    phase_changes: int


class CallHistory:
    """The calls that stand, each with its makings, oldest first."""

    def __init__(self, context: JudgeContext) -> None:
        """Nothing said yet."""
        self._context = context
        self._records: dict[str, list[CallHistoryEntry]] = {}
        self._count = 0
        self._availability_unknown = not context.monitors.calls_entered

    def start_step(self, calls: Sequence[CallEntered]) -> None:
        """Calls are being made: those of a round that is over do not stand any more."""
        for call in calls:
            if self._context.phase_of_call.pop(call.call, None) is None:
                self._records.pop(call.call, None)

    def record(self, calls: Sequence[CallEntered], changes: StepChanges, before: PreCallState) -> None:
        """Remember what calls have changed, now that their step is over."""
        session = self._context
        for call in calls:
            spoken = CallHistoryEntry(session.sim_s, session.phase, changes, before, session.phase_changes)
            self._records.setdefault(call.call, []).append(spoken)
            session.phase_of_call[call.call] = session.phase
        self._count += len(calls)

    def undo_latest(self, name: str) -> CallHistoryEntry:
        """Let the latest making of a call not have been.

        Raises:
            InputFaults: It was not made, or does not stand any more.
        """
        called = self._context.phase_of_call
        if name not in called:
            raise not_called_error(name, called)
        made = self._records[name]
        spoken = made.pop()
        self._count -= 1
        if made:
            called[name] = made[-1].phase
        else:
            del called[name]
        return spoken

    @property
    def calls_unknown(self) -> bool:
        """Whether no call is left, and none was expected: nobody knows then whether calls are entered."""
        return self._availability_unknown and not self._count


class CallUndo:
    """What the parts of the judge do about a call that is taken back, in the order in which a step goes."""

    def __init__(
        self,
        context: JudgeContext,
        items: Items,
        watches: Watches,
        order_rules: OrderRules,
        gates: Gates,
        finding_log: FindingLog,
    ) -> None:
        """Knows all the parts."""
        self._context = context
        self._items = items
        self._watches = watches
        self._order_rules = order_rules
        self._gates = gates
        self._finding_log = finding_log

    def restore_items(self, record: CallHistoryEntry) -> list[ItemChange]:
        """Items that are again what they were before the call, with their memory."""
        back = (self._items.undo_change(change, record.sim_s) for change in record.changes.items)
        undone = [change for change in back if change is not None]
        self._reopen_closed(record)
        self._order_rules.recheck_since(record.sim_s)
        return undone

    def restore_watches(self, record: CallHistoryEntry) -> None:
        """Watches that stand again as before the call."""
        back = [turn for turn in record.changes.watches if self._watches.undo_change(turn, record.sim_s)]
        self._reopen_closed(record)
        for turn in back:
            self._watches.resume_timer(turn)

    def restore_gates(
        self, record: CallHistoryEntry, cued: Collection[str], changed: Collection[str]
    ) -> None:
        """Cues that are given again were given before; what only this call has brought about is no error.

        Args:
            record: The call.
            cued: The gates that were cued when the retraction began.
            changed: The conditions whose truth the retraction has changed.
        """
        self._gates.undo_call(record.before.cued_since, changed)
        gone = set(cued) - self._context.cued_gates
        for about, finding in self._finding_log.opened_since(record.before.finding_count):
            if self._caused_by_call(about, gone, changed):
                self._finding_log.undo(about, finding)

    def _caused_by_call(self, key: FindingKey, gone: Collection[str], changed: Collection[str]) -> bool:
        """Whether what was found has lost its ground by the retraction itself."""
        if key.rule_kind is RuleKind.NEED:
            return key.gate in gone or (key.item in changed and self._items.states[key.item].satisfied)
        if key.rule_kind is RuleKind.WATCH:
            ids = {applies_id(key.item), expect_id(key.item)}
            return not ids.isdisjoint(changed) and not self._watches.is_violated(key.item)
        return False

    def _reopen_closed(self, record: CallHistoryEntry) -> None:
        """Open again what was found before the call and closed by it, unless the flight has gone on."""
        if self._context.phase_changes != record.phase_changes:
            return
        for about, finding in self._finding_log.closed_since(record.before.finding_count, record.sim_s):
            if self._still_applies(about, finding) and self._finding_log.open_finding(about) is None:
                self._finding_log.reopen(about, finding.number)

    def _still_applies(self, key: FindingKey, finding: Finding) -> bool:
        """Whether a finding that was closed is so again."""
        if key.rule_kind is RuleKind.NEED:
            state = self._items.states[key.item]
            return (
                finding.kind is not FindingKind.NOT_VERIFIABLE
                and state.truth is False
                and not state.satisfied
            )
        if key.rule_kind is RuleKind.WATCH:
            return self._watches.is_violated(key.item)
        return self._order_rules.still_violated(key)
