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

from rules.judge.entries import Finding, FindingChanged, FindingOpened
from rules.judge.session import Session
from rules.judge.wording import evidence
from rules.language.truth import Reason
from rules.packs.model import FindingKind, Item, Level, Watch


class Family(StrEnum):
    """Which rule found it; each has its own way of being mended."""

    NEED = "need"
    TOO_EARLY = "too early"
    OUT_OF_ORDER = "out of order"
    WATCH = "watch"


class About(NamedTuple):
    """Which rule found what, at which gate ('' for none)."""

    family: Family
    gate: str
    item: str


Subject: TypeAlias = Item | Watch
"""What a finding is about."""


class Hearer(Protocol):
    """Who is told of findings as they open and close, to decide what the crew hears."""

    def opened(self, about: About, finding: Finding, *, again: bool) -> None:
        """A finding opened; `again`: what had been met was undone."""

    def still_open(self, number: int, gate: str) -> None:
        """Another gate finds the same open."""

    def closed(self, number: int) -> None:
        """A finding closed."""

    def forget(self, about: About) -> None:
        """What was told about this counts as never told."""


class Ledger:
    """All findings of a session."""

    def __init__(self, session: Session, hearer: Hearer) -> None:
        """Nothing on the record."""
        self._session = session
        self._hearer = hearer
        self.record: list[Finding] = []
        self._open: dict[About, int] = {}
        self._about: dict[int, About] = {}
        self._awaiting: dict[str, list[int]] = {}
        self._may_be_late: set[int] = set()
        self._abouts: list[About] = []
        self._let_go = 0

    def of(self, about: About) -> Finding | None:
        """The open finding about this, if there is one."""
        number = self._open.get(about)
        return None if number is None else self.record[number - 1]

    def standing(self, item: str) -> Finding | None:
        """The open finding of a need that some gate of this round has already found, if there is one."""
        numbers = (n for a, n in self._open.items() if a.item == item and a.family is Family.NEED)
        number = min(numbers, default=None)
        return None if number is None else self.record[number - 1]

    def about(self, number: int) -> About | None:
        """What an open finding is about; None once it is closed."""
        return self._about.get(number)

    def open_on(self, item: str, family: Family) -> list[Finding]:
        """The open findings on an item by one rule, also those of gates that are passed."""
        return [self.record[n - 1] for n, a in self._about.items() if a.item == item and a.family is family]

    def open(
        self,
        about: About,
        kind: FindingKind,
        subject: Subject,
        reason: Reason,
        *,
        level: Level | None = None,
        again: bool = False,
        entering: bool = False,
        may_be_late: bool = False,
    ) -> Finding:
        """Put an error on the record.

        Args:
            about: Which rule found it, at which gate, on what; not open already.
            kind: What went wrong.
            subject: The item or watch.
            reason: The evidence.
            level: Instead of the subject's own.
            again: Whether it had been met before and was undone.
            entering: Whether the gate is being entered in this step.
            may_be_late: Whether it turns out late, rather than omitted, if it is done after all.
        """
        actual, wanted = evidence(reason)
        number = len(self.record) + 1
        finding = Finding(
            number,
            kind,
            subject.id,
            subject.label,
            about.gate,
            self._session.phase,
            subject.seat,
            level or subject.level,
            self._session.sim_s,
            actual,
            wanted,
            reason.sentence,
            subject.why,
            lead_s=0.0 if entering else None,
            carried=entering,
        )
        self._note(about, finding, late=may_be_late)
        self._session.say(FindingOpened(self._session.sim_s, finding))
        self._hearer.opened(about, finding, again=again)
        return finding

    def reopen(self, about: About, number: int) -> None:
        """What closed only because it did not apply any more applies again, and was never put right: one error."""
        finding = replace(self.record[number - 1], closed_s=None)
        if finding.kind is FindingKind.LATE and number in self._may_be_late:
            finding = replace(finding, kind=FindingKind.OMITTED)
        self._open[about] = number
        self._about[number] = about
        self._change(finding)
        self._hearer.opened(about, finding, again=False)

    def find_again(self, finding: Finding, gate: str) -> None:
        """Another gate finds the same open: it is one error, told anew before that gate."""
        self._hearer.still_open(finding.number, gate)

    def mend(self, number: int, closed_s: float, *, done: bool = True) -> None:
        """Close a finding.

        Args:
            number: Which; one that is closed already is left alone.
            closed_s: When it was mended.
            done: False where nobody did it (it was excused, or does not apply any more).
        """
        about = self._about.pop(number, None)
        if about is None:
            return
        if self._open.get(about) == number:
            del self._open[about]
        late = done and number in self._may_be_late
        finding = self.record[number - 1]
        self._change(replace(finding, closed_s=closed_s, kind=FindingKind.LATE if late else finding.kind))
        self._hearer.closed(number)

    def opened_since(self, number: int) -> list[tuple[About, Finding]]:
        """What was found after the finding of this number and is open."""
        return [(about, self.record[n - 1]) for n, about in self._about.items() if n > number]

    def closed_since(self, number: int, at_s: float) -> list[tuple[About, Finding]]:
        """What was found up to the finding of this number and closed at that moment or later."""
        pairs = zip(self._abouts[self._let_go : number], self.record[self._let_go : number], strict=True)
        return [(about, f) for about, f in pairs if f.closed_s is not None and f.closed_s >= at_s]

    def take_back(self, about: About, finding: Finding) -> None:
        """What gave rise to a finding was not so: it closes, and counts as never told."""
        self.mend(finding.number, self._session.sim_s, done=False)
        self._hearer.forget(about)

    def mend_all(self, findings: Iterable[Finding], closed_s: float, *, done: bool = True) -> None:
        """Close several."""
        for finding in findings:
            self.mend(finding.number, closed_s, done=done)

    def enter(self, gate: str) -> int:
        """The gate is entered: each of its findings gets its lead time, and what is open is carried.

        Returns:
            How many are carried into the phase.
        """
        numbers = self._awaiting.pop(gate, [])
        for finding in (self.record[n - 1] for n in numbers):
            if finding.lead_s is None:
                lead_s = round(self._session.sim_s - finding.sim_s, 3)
                self._change(replace(finding, lead_s=lead_s, carried=finding.closed_s is None))
        return sum(self.record[n - 1].closed_s is None for n in numbers)

    def renew(self, gate: str) -> None:
        """The gate comes into play (again): what it found in an earlier round stands, and it may find it anew."""
        self._awaiting.pop(gate, None)
        for about in [about for about in self._open if about.gate == gate and about.family is Family.NEED]:
            del self._open[about]

    def let_go(self) -> None:
        """The aeroplane was put elsewhere: what is open stays on the record as it is, for nobody can mend it."""
        self._open.clear()
        self._about.clear()
        self._awaiting.clear()
        self._may_be_late.clear()
        self._let_go = len(self.record)

    def _note(self, about: About, finding: Finding, *, late: bool) -> None:
        """Remember an open finding under all that it is asked by."""
        self.record.append(finding)
        self._abouts.append(about)
        self._open[about] = finding.number
        self._about[finding.number] = about
        if about.gate:
            self._awaiting.setdefault(about.gate, []).append(finding.number)
        if late:
            self._may_be_late.add(finding.number)

    def _change(self, finding: Finding) -> None:
        """Put the finding as it now stands in the place of what it was."""
        self.record[finding.number - 1] = finding
        self._session.say(FindingChanged(self._session.sim_s, finding))
