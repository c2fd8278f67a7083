"""Findings in the words of threat and error management, as a debrief sorts them.

The grouping is the one of three kinds of error (aircraft handling, procedural, communication) beside threats and
undesired aircraft states: ICAO Doc 9803 (LOSA), chapter 2, from memory; the definitions also in ICAO Doc 9868
(PANS-TRG), part I, chapter 1, from memory.  Which finding goes where is our own judgement (common practice, no source):
a watcher sees what is so, not why.

    threat                     fire warnings: what comes to the crew from outside or from the aeroplane
    procedural error           omitted, undone, late, too early, out of order; a wrong number in the papers
    aircraft handling error    a wrong value set on a control, a system or the automation
    communication error        a call or clearance to or from others that was not made or not awaited
    undesired aircraft state   a limit exceeded, a warning that sounds
    not verifiable             no error is known: the state could not be seen

Takes: a finding and its pack.  Gives: its class, and how it was managed.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from enum import StrEnum

from rules.judge.condition_facts import nodes_of, signals_read
from rules.judge.events import Finding
from rules.language.checked_tree import CallEvent, Condition
from rules.packs.model import FindingKind, Item, Pack, Watch

OUTSIDE_CREW = frozenset({"ground", "atc", "cabin"})
"""Who speaks with the crew and is none of it."""


class ErrorClass(StrEnum):
    """Where a finding stands in threat and error management."""

    THREAT = "threat"
    PROCEDURAL = "procedural error"
    HANDLING = "aircraft handling error"
    COMMUNICATION = "communication error"
    UNDESIRED_STATE = "undesired aircraft state"
    NOT_VERIFIABLE = "not verifiable"


class ThreatErrorClassifier:
    """Sorts the findings of one pack."""

    def __init__(self, pack: Pack) -> None:
        """Learn what each item and watch reads.

        Args:
            pack: the rules by which the findings were made.
        """
        self._pack = pack
        self._watches = {watch.id: watch for watch in pack.watches}

    def classify(self, finding: Finding) -> ErrorClass:
        """The class of a finding; one whose item the pack does not know goes by its kind alone."""
        item = self._pack.items.get(finding.item) or self._watches.get(finding.item)
        reads = _signals_of(item)
        if finding.kind is FindingKind.NOT_VERIFIABLE:
            return ErrorClass.NOT_VERIFIABLE
        if any(name.startswith("fire.") and name.endswith(".warning") for name in reads):
            return ErrorClass.THREAT
        if finding.kind is FindingKind.LIMIT_EXCEEDED:
            return ErrorClass.UNDESIRED_STATE
        if self._involves_outside_crew(item, finding.kind):
            return ErrorClass.COMMUNICATION
        if finding.kind is FindingKind.WRONG_VALUE and not _reads_trip_only(reads):
            return ErrorClass.HANDLING
        return ErrorClass.PROCEDURAL

    def _involves_outside_crew(self, item: Item | Watch | None, kind: FindingKind) -> bool:
        """Whether it is about a call that somebody outside the crew takes part in."""
        if not isinstance(item, Item):
            return False
        awaited = item.after if kind is FindingKind.TOO_EARLY else item.condition
        return any(
            self._pack.calls[call].by in OUTSIDE_CREW
            for call in _calls_in(awaited)
            if call in self._pack.calls
        )


def management_text(finding: Finding) -> str:
    """Say if a finding was corrected, and if that was before its phase began (as far as that is known)."""
    if finding.carried:
        late = " and corrected there" if finding.closed_s is not None else ", not corrected"
        return f"carried into the phase{late}"
    if finding.closed_s is None:
        return "not corrected"
    return "corrected before the phase began" if finding.lead_s is not None else "corrected"


def _signals_of(item: Item | Watch | None) -> AbstractSet[str]:
    """What an item or watch looks at."""
    if isinstance(item, Item):
        return frozenset(item.signals) | signals_read(item.condition)
    return signals_read(item.expect) if item is not None else frozenset()


def _reads_trip_only(reads: AbstractSet[str]) -> bool:
    """Whether only papers, and what is reckoned from them, are looked at."""
    return bool(reads) and all(name.startswith(("trip.", "figure.")) for name in reads)


def _calls_in(condition: Condition | None) -> AbstractSet[str]:
    return frozenset(part.name for part in nodes_of(condition) if isinstance(part, CallEvent))
