"""Call history and undo of the latest entry of a call.

Undo restores the call itself, what items and watches became by it, the findings that it opened, and those that it
closed.  Later events stay: an entered phase is not left, and a notice that was given is not withdrawn.

Takes: calls as they are entered, and what changed in the same step.  Gives: the state as if the call had not been
entered.
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


class StepChanges(NamedTuple):
    """Items and watches that changed in a step."""

    items: Sequence[ItemChange]
    watches: Sequence[WatchChange]


class PreCallState(NamedTuple):
    """State before a call: since when each gate was cued, and the number of findings."""

    cued_since: Mapping[str, float]
    finding_count: int


@dataclass(frozen=True, slots=True)
class CallHistoryEntry:
    """One entry of a call: time, phase, the changes of its step, and the state before.

    `phase_changes` is the number of phases entered by the end of that step.
    """

    sim_s: float
    phase: str
    changes: StepChanges
    before: PreCallState
    phase_changes: int


class CallHistory:
    """Entries of the calls that are in effect, oldest first."""

    def __init__(self, context: JudgeContext) -> None:
        self._context = context
        self._records: dict[str, list[CallHistoryEntry]] = {}

    def start_step(self, calls: Sequence[CallEntered]) -> None:
        """Drop the entries of these calls that belong to an earlier round."""
        self._context.call_changes += bool(calls)
        for call in calls:
            if self._context.phase_of_call.pop(call.call, None) is None:
                self._records.pop(call.call, None)

    def record(self, calls: Sequence[CallEntered], changes: StepChanges, before: PreCallState) -> None:
        """Record calls with what their step changed, at the end of the step."""
        context = self._context
        for call in calls:
            entry = CallHistoryEntry(context.sim_s, context.phase, changes, before, context.phase_changes)
            self._records.setdefault(call.call, []).append(entry)
            context.phase_of_call[call.call] = context.phase

    def undo_latest(self, name: str) -> CallHistoryEntry:
        """Remove the latest entry of a call.

        Raises:
            InputFaults: The call is not in effect.
        """
        phase_of_call = self._context.phase_of_call
        if name not in phase_of_call:
            raise not_called_error(name, phase_of_call)
        self._context.call_changes += 1
        entries = self._records[name]
        entry = entries.pop()
        if entries:
            phase_of_call[name] = entries[-1].phase
        else:
            del phase_of_call[name]
        return entry


def remove_early_call(early_calls: list[CallEntered], name: str) -> None:
    """Remove the latest entry of a call from those that are pending for the first frame.

    Raises:
        InputFaults: The call is not pending.
    """
    names = [call.call for call in early_calls]
    if name not in names:
        raise not_called_error(name, dict.fromkeys(names))
    del early_calls[len(names) - 1 - names[::-1].index(name)]


# Why an undo needs the step of the call.  One call can meet an item and thereby close a finding:
#
#     time s       10           12           15            18
#     call               entered                   undone
#     item         open         met                        open again, since 10
#     finding 1    opened       closed                     reopened (not a new finding 2)
#     timers       hold         clear                      the hold of 10 s counts on
#
# To put back "open since 10" the history keeps each `ItemChange` of the step with its old truth and times.  An item that
# has changed again since, or that has another reason to be met, stays as it is: its change was not the call's alone.
# Findings are restored in two directions: those that the step closed are reopened, unless the phase has changed since;
# those opened later are closed only if the undo itself took away their cue or their condition.


class CallUndo:
    """Restores the parts of the judge when a call is undone, in the order of a step."""

    def __init__(
        self,
        context: JudgeContext,
        items: Items,
        watches: Watches,
        order_rules: OrderRules,
        gates: Gates,
        finding_log: FindingLog,
    ) -> None:
        self._context = context
        self._items = items
        self._watches = watches
        self._order_rules = order_rules
        self._gates = gates
        self._finding_log = finding_log

    def restore_items(self, record: CallHistoryEntry) -> list[ItemChange]:
        """Give each item whose truth is again that of before the call its earlier status and times."""
        restored = (self._items.undo_change(change, record.sim_s) for change in record.changes.items)
        undone = [change for change in restored if change is not None]
        self._reopen_closed(record)
        self._order_rules.recheck_since(record.sim_s)
        return undone

    def restore_watches(self, record: CallHistoryEntry) -> None:
        """Give each watch whose status is again that of before the call its earlier times."""
        restored = [
            change for change in record.changes.watches if self._watches.undo_change(change, record.sim_s)
        ]
        self._reopen_closed(record)
        for change in restored:
            self._watches.resume_timer(change)

    def restore_gates(
        self, record: CallHistoryEntry, cued: Collection[str], changed: Collection[str]
    ) -> None:
        """Restore cues, and close findings that only the undo itself would justify.

        Args:
            record: The call.
            cued: Gates that were cued when the undo began.
            changed: Conditions whose truth the undo changed.
        """
        self._gates.undo_call(record.before.cued_since, changed)
        gone = set(cued) - self._context.cued_gates
        for key, finding in self._finding_log.opened_since(record.before.finding_count):
            if self._caused_by_call(key, gone, changed):
                self._finding_log.undo(key, finding)

    def _caused_by_call(self, key: FindingKey, gone: Collection[str], changed: Collection[str]) -> bool:
        """True if the undo itself removed the ground of this finding."""
        if key.rule_kind is RuleKind.NEED:
            return key.gate in gone or (key.item in changed and self._items.states[key.item].satisfied)
        if key.rule_kind is RuleKind.WATCH:
            ids = {applies_id(key.item), expect_id(key.item)}
            return not ids.isdisjoint(changed) and not self._watches.is_violated(key.item)
        return False

    def _reopen_closed(self, record: CallHistoryEntry) -> None:
        """Reopen findings that the call closed, unless the phase has changed since."""
        if self._context.phase_changes != record.phase_changes:
            return
        for key, finding in self._finding_log.closed_since(record.before.finding_count, record.sim_s):
            if self._still_applies(key, finding) and self._finding_log.open_finding(key) is None:
                self._finding_log.reopen(key, finding.number)

    def _still_applies(self, key: FindingKey, finding: Finding) -> bool:
        """True if a closed finding applies again."""
        if key.rule_kind is RuleKind.NEED:
            state = self._items.states[key.item]
            return finding.corrected and not finding.is_doubt and state.truth is False and not state.satisfied
        if key.rule_kind is RuleKind.WATCH:
            return self._watches.is_violated(key.item)
        return finding.corrected and self._order_rules.still_violated(key)
