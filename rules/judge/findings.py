"""Findings: the record of errors, numbered, opened and closed.

A finding keeps the kind that it was opened with, with one exception: an item that was first found open at the very
entry of its gate (no cue was given, or it was still within its hold) was not told before; if it is done in the phase
after all, it turns out late, not omitted.

Takes: what went wrong, when it was mended, when a gate was entered.  Gives: FindingOpened, FindingChanged.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import NamedTuple, Protocol, TypeAlias

from msgspec.structs import replace

from rules.judge.context import JudgeContext
from rules.judge.events import Finding, FindingChanged, FindingOpened
from rules.judge.wording import actual_and_wanted
from rules.language.truth import Reason
from rules.packs.model import FindingKind, Item, Level, Watch


class RuleKind(StrEnum):
    """Which rule found it; each has its own way of being mended."""

    NEED = "need"
    TOO_EARLY = "too early"
    OUT_OF_ORDER = "out of order"
    WATCH = "watch"


class FindingKey(NamedTuple):
    """Which rule found what, at which gate ('' for none)."""

    rule_kind: RuleKind
    gate: str
    item: str


Subject: TypeAlias = Item | Watch
"""What a finding is about."""


class FindingListener(Protocol):
    """Who is told of findings as they open and close, to decide what the crew hears."""

    def opened(self, key: FindingKey, finding: Finding, *, undone: bool) -> None:
        """A finding opened; `again`: what had been met was undone."""

    def repeated_at_gate(self, number: int, gate: str) -> None:
        """Another gate finds the same open."""

    def closed(self, number: int) -> None:
        """A finding closed."""

    def reset_repeat(self, key: FindingKey) -> None:
        """What was told about this counts as never told."""


class FindingLog:
    """All findings of a session."""

    def __init__(self, context: JudgeContext, listener: FindingListener) -> None:
        """Nothing on the record."""
        self._context = context
        self._listener = listener
        self.findings: list[Finding] = []
        self._open_by_key: dict[FindingKey, int] = {}
        self._key_by_number: dict[int, FindingKey] = {}
        self._awaiting_entry: dict[str, list[int]] = {}
        self._late_candidates: set[int] = set()
        self._keys: list[FindingKey] = []
        self._abandoned_count = 0

    def open_finding(self, key: FindingKey) -> Finding | None:
        """The open finding about this, if there is one."""
        number = self._open_by_key.get(key)
        return None if number is None else self.findings[number - 1]

    def open_need(self, item: str) -> Finding | None:
        """The open finding of a need that some gate of this round has already found, if there is one."""
        numbers = (n for a, n in self._open_by_key.items() if a.item == item and a.rule_kind is RuleKind.NEED)
        number = min(numbers, default=None)
        return None if number is None else self.findings[number - 1]

    def key_of(self, number: int) -> FindingKey | None:
        """What an open finding is about; None once it is closed."""
        return self._key_by_number.get(number)

    def open_for(self, item: str, rule_kind: RuleKind) -> list[Finding]:
        """The open findings on an item by one rule, also those of gates that are passed."""
        return [
            self.findings[n - 1]
            for n, a in self._key_by_number.items()
            if a.item == item and a.rule_kind is rule_kind
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
        """Put an error on the record.

        Args:
            key: Which rule found it, at which gate, on what; not open already.
            kind: What went wrong.
            subject: The item or watch.
            reason: The evidence.
            level: Instead of the subject's own.
            undone: Whether it had been met before and was undone.
            entering: Whether the gate is being entered in this step.
            may_be_late: Whether it turns out late, rather than omitted, if it is done after all.
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
            subject.seat,
            level or subject.level,
            self._context.sim_s,
            actual,
            wanted,
            reason.sentence,
            subject.why,
            lead_s=0.0 if entering else None,
            carried=entering,
        )
        self._register(key, finding, may_be_late=may_be_late)
        self._context.emit(FindingOpened(self._context.sim_s, finding))
        self._listener.opened(key, finding, undone=undone)
        return finding

    def reopen(self, key: FindingKey, number: int) -> None:
        """What closed only because it did not apply any more applies again, and was never put right: one error."""
        finding = replace(self.findings[number - 1], closed_s=None)
        if finding.kind is FindingKind.LATE and number in self._late_candidates:
            finding = replace(finding, kind=FindingKind.OMITTED)
        self._open_by_key[key] = number
        self._key_by_number[number] = key
        self._replace(finding)
        self._listener.opened(key, finding, undone=False)

    def repeat_at_gate(self, finding: Finding, gate: str) -> None:
        """Another gate finds the same open: it is one error, told anew before that gate."""
        self._listener.repeated_at_gate(finding.number, gate)

    def close(self, number: int, closed_s: float, *, corrected: bool = True) -> None:
        """Close a finding.

        Args:
            number: Which; one that is closed already is left alone.
            closed_s: When it was mended.
            corrected: False where nobody did it (it was excused, or does not apply any more).
        """
        about = self._key_by_number.pop(number, None)
        if about is None:
            return
        if self._open_by_key.get(about) == number:
            del self._open_by_key[about]
        late = corrected and number in self._late_candidates
        finding = self.findings[number - 1]
        self._replace(replace(finding, closed_s=closed_s, kind=FindingKind.LATE if late else finding.kind))
        self._listener.closed(number)

    def opened_since(self, number: int) -> list[tuple[FindingKey, Finding]]:
        """What was found after the finding of this number and is open."""
        return [(about, self.findings[n - 1]) for n, about in self._key_by_number.items() if n > number]

    def closed_since(self, number: int, at_s: float) -> list[tuple[FindingKey, Finding]]:
        """What was found up to the finding of this number and closed at that moment or later."""
        pairs = zip(
            self._keys[self._abandoned_count : number],
            self.findings[self._abandoned_count : number],
            strict=True,
        )
        return [(about, f) for about, f in pairs if f.closed_s is not None and f.closed_s >= at_s]

    def undo(self, key: FindingKey, finding: Finding) -> None:
        """What gave rise to a finding was not so: it closes, and counts as never told."""
        self.close(finding.number, self._context.sim_s, corrected=False)
        self._listener.reset_repeat(key)

    def close_all(self, findings: Iterable[Finding], closed_s: float, *, corrected: bool = True) -> None:
        """Close several."""
        for finding in findings:
            self.close(finding.number, closed_s, corrected=corrected)

    def enter_gate(self, gate: str) -> int:
        """The gate is entered: each of its findings gets its lead time, and what is open is carried.

        Returns:
            How many are carried into the phase.
        """
        numbers = self._awaiting_entry.pop(gate, [])
        for finding in (self.findings[n - 1] for n in numbers):
            if finding.lead_s is None:
                lead_s = round(self._context.sim_s - finding.sim_s, 3)
                self._replace(replace(finding, lead_s=lead_s, carried=finding.closed_s is None))
        return sum(self.findings[n - 1].closed_s is None for n in numbers)

    def start_round(self, gate: str) -> None:
        """The gate comes into play (again): what it found in an earlier round stands, and it may find it anew."""
        self._awaiting_entry.pop(gate, None)
        for about in [
            about for about in self._open_by_key if about.gate == gate and about.rule_kind is RuleKind.NEED
        ]:
            del self._open_by_key[about]

    def abandon_open(self) -> None:
        """The aeroplane was put elsewhere: what is open stays on the record as it is, for nobody can mend it."""
        self._open_by_key.clear()
        self._key_by_number.clear()
        self._awaiting_entry.clear()
        self._late_candidates.clear()
        self._abandoned_count = len(self.findings)

    def _register(self, key: FindingKey, finding: Finding, *, may_be_late: bool) -> None:
        """Remember an open finding under all that it is asked by."""
        self.findings.append(finding)
        self._keys.append(key)
        self._open_by_key[key] = finding.number
        self._key_by_number[finding.number] = key
        if key.gate:
            self._awaiting_entry.setdefault(key.gate, []).append(finding.number)
        if may_be_late:
            self._late_candidates.add(finding.number)

    def _replace(self, finding: Finding) -> None:
        """Put the finding as it now stands in the place of what it was."""
        self.findings[finding.number - 1] = finding
        self._context.emit(FindingChanged(self._context.sim_s, finding))
