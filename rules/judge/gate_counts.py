"""Counts the needs of a gate, and writes the counts as words.

Every screen, message and report that names a gate takes its numbers and its words from here, so that none of them says
"0 open" without how much could be judged.

Takes: needs with their status and verdict.  Gives: `GateCounts`, and text.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from enum import StrEnum
from typing import NamedTuple, Protocol

from rules.judge.events import Finding, GateEvent, ItemStatus, Verdict
from rules.words import count_in_digits, number_in_words

OPEN_STATUSES = frozenset({ItemStatus.OPEN, ItemStatus.LOST})
"""Statuses of a need that is known not to be met."""


class GateReadiness(StrEnum):
    """Readiness for a gate, in the order in which one hides the next.

    Only `CLEAR` may be shown or said as all clear: every need that counts is met and was judged, and no other finding is
    open.  A single need that nobody could judge makes it `PARTIAL`; there is no share that is enough, because the one
    need without data may be the one that is wrong.
    """

    EMPTY = "no items"
    OPEN = "open"
    NOT_JUDGED = "not judged"
    OTHER_OPEN = "other findings open"
    PARTIAL = "partly judged"
    LATER = "later"
    CLEAR = "clear"


class CountedNeed(Protocol):
    """A need, as far as it is counted."""

    @property
    def id(self) -> str:
        """Id of the item."""

    @property
    def status(self) -> ItemStatus:
        """Present status."""

    @property
    def verdict(self) -> Verdict:
        """Present verdict."""


class GateCounts(NamedTuple):
    """Needs of a gate at one time.

    `needs` are those that count: all but the waived ones.  `judged` is how many of them are known to be met or not met.
    `open` are those that are known not to be met; a need that is not known is not open.  `later`
    are those that are not met and cannot be met yet; they are not in `open`.  `other_findings` are the open findings
    about anything but the open needs: of an earlier gate, of a watch, of an action that came too early.
    """

    needs: int
    judged: int
    open: int
    later: int = 0
    other_findings: int = 0

    @property
    def readiness(self) -> GateReadiness:
        """Readiness that these counts allow."""
        if self.open:
            return GateReadiness.OPEN
        if not self.needs:
            return GateReadiness.OTHER_OPEN if self.other_findings else GateReadiness.EMPTY
        if not self.judged:
            return GateReadiness.NOT_JUDGED
        if self.other_findings:
            return GateReadiness.OTHER_OPEN
        if not self.fully_judged:
            return GateReadiness.PARTIAL
        return GateReadiness.LATER if self.later else GateReadiness.CLEAR

    @property
    def fully_judged(self) -> bool:
        """True if every need that counts was judged."""
        return self.judged == self.needs


def count_needs(
    needs: Iterable[CountedNeed], later: Collection[str] = (), other_findings: int = 0
) -> GateCounts:
    """Count the needs of a gate.

    Args:
        needs: The gate's needs, each once.
        later: Ids of those that cannot be met yet.
        other_findings: Number of open findings about anything but the open needs.
    """
    counted = [need for need in needs if need.status is not ItemStatus.WAIVED]
    unmet = [need for need in counted if need.status in OPEN_STATUSES]
    waiting = sum(need.id in later for need in unmet)
    judged = sum(need.verdict is not Verdict.UNKNOWN for need in counted)
    return GateCounts(len(counted), judged, len(unmet) - waiting, waiting, other_findings)


def count_others(open_findings: Iterable[Finding], unmet: Collection[str]) -> int:
    """Count the open findings about anything but these items; what is not verifiable is no error, and not counted."""
    return sum(f.item not in unmet and not f.is_doubt for f in open_findings)


def counts_of(event: GateEvent) -> GateCounts:
    """Give the counts that an event of a gate carries."""
    return GateCounts(event.needs, event.judged, event.open_items, 0, event.other_findings)


def gate_text(counts: GateCounts, *, cued: bool = True) -> str:
    """Write the counts of a gate: `0 open, 18 of 79 judged, 1 other finding open`.

    Args:
        counts: The counts.
        cued: False before the cue, where an open need is still to be done: `3 to do, 5 later, 18 of 79 judged`.
    """
    return ", ".join(gate_text_parts(counts, cued=cued))


def gate_text_parts(counts: GateCounts, *, cued: bool = True) -> list[str]:
    """Write the same in parts, the most important first, for a screen that makes the first one large."""
    if not counts.needs:
        parts = ["no items"]
    else:
        parts = [f"{counts.open} {'open' if cued else 'to do'}"]
        parts += [f"{counts.later} later"] * bool(counts.later)
        parts.append(judged_text(counts))
    if counts.other_findings:
        parts.append(f"{count_in_digits(counts.other_findings, 'other finding')} open")
    return parts


def judged_text(counts: GateCounts) -> str:
    """Write how much was judged: `18 of 79 judged`."""
    return f"{counts.judged} of {counts.needs} judged"


def judged_speech(counts: GateCounts) -> str:
    """Write the same for a voice: `eighteen of seventy-nine judged`; '' if all needs were judged."""
    if counts.fully_judged:
        return ""
    judged = number_in_words(counts.judged) if counts.judged else "none"
    return f"{judged} of {number_in_words(counts.needs)} judged"
