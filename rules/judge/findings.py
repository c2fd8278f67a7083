"""Finding log: numbered errors, opened and closed.

The kind of a finding does not change, with one exception.  An item that is first found open at the entry of its gate
(because there was no cue, or it was still within its hold) was not reported before.  If it is done in the phase after
all, its kind changes from omitted to late.

Takes: errors, corrections, entries of gates.  Gives: `FindingOpened` and `FindingChanged` events.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from enum import StrEnum
from typing import NamedTuple, Protocol, TypeAlias

from msgspec.structs import replace

from rules.judge.context import JudgeContext
from rules.judge.events import Finding, FindingChanged, FindingOpened
from rules.judge.own_sentences import own_sentence
from rules.judge.wording import actual_and_wanted
from rules.language.truth import Reason
from rules.packs.model import AEROPLANE, FindingKind, Item, Level, Watch


class RuleKind(StrEnum):
    """Kind of rule that found an error; each closes its findings in its own way."""

    NEED = "need"
    TOO_EARLY = "too early"
    OUT_OF_ORDER = "out of order"
    WATCH = "watch"


class FindingKey(NamedTuple):
    """Identity of a finding: rule, gate ('' for none) and item."""

    rule_kind: RuleKind
    gate: str
    item: str


Subject: TypeAlias = Item | Watch
"""What a finding is about."""


class FindingListener(Protocol):
    """Receiver of opened and closed findings, which decides on notices."""

    def opened(self, key: FindingKey, finding: Finding, *, undone: bool) -> None:
        """Handle an opened finding; `undone`: the item had been met before."""

    def repeated_at_gate(self, number: int, gate: str) -> None:
        """Handle a finding that another gate finds open too."""

    def closed(self, number: int) -> None:
        """Handle a closed finding."""

    def reset_repeat(self, key: FindingKey) -> None:
        """Forget earlier notices about this."""


class FindingLog:
    """All findings of a session."""

    def __init__(self, context: JudgeContext, listener: FindingListener) -> None:
        self._context = context
        self._listener = listener
        self.findings: list[Finding] = []
        self._open_by_key: dict[FindingKey, int] = {}
        self._key_by_number: dict[int, FindingKey] = {}
        self._awaiting_entry: dict[str, list[int]] = {}
        self._late_candidates: set[int] = set()
        self._keys: list[FindingKey] = []
        self._renewable: dict[int, FindingKey] = {}
        self._abandoned_count = 0

    def open_finding(self, key: FindingKey) -> Finding | None:
        """Open finding with this key, None for none."""
        number = self._open_by_key.get(key)
        return None if number is None else self.findings[number - 1]

    def open_need(self, item: str) -> Finding | None:
        """Open finding of a need that any gate has found since it last became active; None if there is none."""
        numbers = (
            n for key, n in self._open_by_key.items() if key.item == item and key.rule_kind is RuleKind.NEED
        )
        number = min(numbers, default=None)
        return None if number is None else self.findings[number - 1]

    def open_items(self) -> frozenset[str]:
        """Items and watches with an open finding."""
        return frozenset(key.item for key in self._key_by_number.values())

    def open_in_order(self) -> list[Finding]:
        """Open findings, in the order of their numbers."""
        return [self.findings[number - 1] for number in sorted(self._key_by_number)]

    def open_for(self, item: str, rule_kind: RuleKind) -> list[Finding]:
        """Open findings on an item by one rule, including those of gates that were passed."""
        if not self._key_by_number:  # asked for each item that changes
            return []
        return [
            self.findings[number - 1]
            for number, key in self._key_by_number.items()
            if key.item == item and key.rule_kind is rule_kind
        ]

    def open(
        self,
        key: FindingKey,
        kind: FindingKind,
        subject: Subject,
        reason: Reason,
        *,
        level: Level | None = None,
        undone: bool = False,
        entering: bool = False,
        may_be_late: bool = False,
    ) -> Finding:
        """Open a finding.

        Args:
            key: Rule, gate and item; it must have no open finding.
            kind: Kind of error.
            subject: The item or watch.
            reason: The evidence.
            level: Replaces the subject's own level.
            undone: True if it had been met before.
            entering: True if the gate is being entered in this step.
            may_be_late: True if it becomes late, instead of omitted, when it is done after all.
        """
        actual, wanted = actual_and_wanted(reason)
        number = len(self.findings) + 1
        finding = Finding(
            number,
            kind,
            subject.id,
            subject.label,
            key.gate,
            self._context.phase,
            AEROPLANE if kind is FindingKind.AEROPLANE_EVENT else subject.owner or subject.seat,
            level or subject.level,
            self._context.sim_s,
            actual,
            wanted,
            reason.sentence,
            subject.why,
            lead_s=0.0 if entering else None,
            carried=entering,
            own_sentence=self._own_sentence(key, kind, subject, reason),
        )
        self._register(key, finding, may_be_late=may_be_late)
        self._context.emit(FindingOpened(self._context.sim_s, finding))
        self._listener.opened(key, finding, undone=undone)
        return finding

    def reopen(self, key: FindingKey, number: int) -> None:
        """Reopen a finding that closed without a correction and applies again: it stays one error."""
        finding = replace(self.findings[number - 1], closed_s=None, waived=False, corrected=False)
        if finding.kind is FindingKind.LATE and number in self._late_candidates:
            finding = replace(finding, kind=FindingKind.OMITTED)
        self._open_by_key[key] = number
        self._key_by_number[number] = key
        self._replace(finding)
        self._listener.opened(key, finding, undone=False)

    def repeat_at_gate(self, finding: Finding, gate: str) -> None:
        """Report a finding again before another gate that finds it open: it stays one error."""
        self._listener.repeated_at_gate(finding.number, gate)

    def close(self, number: int, closed_s: float, *, corrected: bool = True, waived: bool = False) -> None:
        """Close a finding.

        Args:
            number: Number of the finding; one that is already closed is ignored.
            closed_s: When it was corrected.
            corrected: False where it was not corrected (the item was waived, the rule no longer applies, or nothing ahead
                needs it).
            waived: True where a waiver closes it.
        """
        key = self._key_by_number.pop(number, None)
        if key is None:
            return
        if self._open_by_key.get(key) == number:
            del self._open_by_key[key]
        late = corrected and number in self._late_candidates
        finding = self.findings[number - 1]
        kind = FindingKind.LATE if late else finding.kind
        self._replace(replace(finding, closed_s=closed_s, kind=kind, waived=waived, corrected=corrected))
        self._listener.closed(number)

    def close_past(self, matters: Callable[[str], bool]) -> None:
        """Close the findings on items that do not matter any more: what they found is history, and was not corrected.

        Nor do those open again that a waiver had closed.

        Args:
            matters: Tells whether something that is ahead needs an item.
        """
        past = [n for n, key in self._key_by_number.items() if key.rule_kind is not RuleKind.WATCH]
        for number in past:
            if not matters(self._key_by_number[number].item):
                self.close(number, self._context.sim_s, corrected=False)
        self._renewable = {number: key for number, key in self._renewable.items() if matters(key.item)}

    def opened_since(self, number: int) -> list[tuple[FindingKey, Finding]]:
        """Open findings with a greater number than this one."""
        return [(key, self.findings[n - 1]) for n, key in self._key_by_number.items() if n > number]

    def closed_since(self, number: int, at_s: float) -> list[tuple[FindingKey, Finding]]:
        """Findings up to this number that closed at that time or later, but not because of a waiver."""
        pairs = zip(
            self._keys[self._abandoned_count : number],
            self.findings[self._abandoned_count : number],
            strict=True,
        )
        return [
            (key, f) for key, f in pairs if f.closed_s is not None and f.closed_s >= at_s and not f.waived
        ]

    def undo(self, key: FindingKey, finding: Finding) -> None:
        """Close a finding that has lost its cause, and forget its notices."""
        self.close(finding.number, self._context.sim_s, corrected=False)
        self._listener.reset_repeat(key)

    def close_all(self, findings: Iterable[Finding], closed_s: float, *, corrected: bool = True) -> None:
        """Close several findings."""
        for finding in findings:
            self.close(finding.number, closed_s, corrected=corrected)

    def close_waived(self, findings: Iterable[Finding]) -> None:
        """Close findings on an item that is waived; those of needs open again, as new ones, if it is undone.

        That is new to the crew, so the notices so far are forgotten.
        """
        for finding in findings:
            key = self._key_by_number[finding.number]
            self.close(finding.number, self._context.sim_s, corrected=False, waived=True)
            self._listener.reset_repeat(key)
            if key.rule_kind is RuleKind.NEED:
                self._renewable[finding.number] = key

    def take_renewable(self, item: str) -> list[tuple[FindingKey, Finding]]:
        """Findings of needs that the waiver of an item closed in this round of their gate; each is given once."""
        numbers = [number for number, key in self._renewable.items() if key.item == item]
        return [(self._renewable.pop(number), self.findings[number - 1]) for number in numbers]

    def enter_gate(self, gate: str) -> int:
        """Set the lead time of each finding of a gate that is entered, and mark those still open as carried.

        Returns:
            Number of errors carried into the phase; what is not verifiable is none.
        """
        numbers = self._awaiting_entry.pop(gate, [])
        for finding in (self.findings[number - 1] for number in numbers):
            if finding.lead_s is None:
                lead_s = round(self._context.sim_s - finding.sim_s, 3)
                self._replace(replace(finding, lead_s=lead_s, carried=finding.closed_s is None))
        carried = [self.findings[number - 1] for number in numbers]
        return sum(f.closed_s is None and not f.is_doubt for f in carried)

    def start_round(self, gate: str) -> None:
        """Start a new round of a gate: its earlier findings stay, and the same errors may be found again."""
        self._awaiting_entry.pop(gate, None)
        for key in [key for key in self._open_by_key if key.gate == gate and key.rule_kind is RuleKind.NEED]:
            del self._open_by_key[key]
        for number in [number for number, key in self._renewable.items() if key.gate == gate]:
            del self._renewable[number]

    def abandon_open(self) -> None:
        """Keep open findings unchanged after a jump of the clock, since they can no longer be corrected."""
        self._open_by_key.clear()
        self._key_by_number.clear()
        self._awaiting_entry.clear()
        self._late_candidates.clear()
        self._renewable.clear()
        self._abandoned_count = len(self.findings)

    def _own_sentence(self, key: FindingKey, kind: FindingKind, subject: Subject, reason: Reason) -> str:
        """Sentence of the pack's own; an action against the order, and what cannot be verified, have the general form."""
        if key.rule_kind not in (RuleKind.NEED, RuleKind.WATCH) or kind is FindingKind.NOT_VERIFIABLE:
            return ""
        return own_sentence(subject, reason.truth, self._context.state, reason.entry_error)

    def _register(self, key: FindingKey, finding: Finding, *, may_be_late: bool) -> None:
        """Index an open finding by its keys."""
        self.findings.append(finding)
        self._keys.append(key)
        self._open_by_key[key] = finding.number
        self._key_by_number[finding.number] = key
        if key.gate:
            self._awaiting_entry.setdefault(key.gate, []).append(finding.number)
        if may_be_late:
            self._late_candidates.add(finding.number)

    def _replace(self, finding: Finding) -> None:
        """Replace a finding by its new version and emit it."""
        self.findings[finding.number - 1] = finding
        self._context.emit(FindingChanged(self._context.sim_s, finding))
