"""Classifies findings by threat and error management, for the debrief.

The grouping is the one of three kinds of error (aircraft handling, procedural, communication) beside threats and
undesired aircraft states: ICAO Doc 9803 (LOSA), chapter 2, from memory; the definitions also in ICAO Doc 9868
(PANS-TRG), part I, chapter 1, from memory.  Which finding goes where is our own judgement (common practice, no source):
the data show what happened, not why.

    threat                     events of the aeroplane: outside the crew's control
    procedural error           omitted, undone, late, too early, out of order; a wrong value in the trip sheet
    aircraft handling error    a wrong value set on a control, a system or the automation
    communication error        a call or clearance to or from others that is missing or was not awaited
    undesired aircraft state   a limit exceeded, an active warning
    not verifiable             no error is known: the state has no data

Takes: a finding and its pack.  Gives: its class, and a text on how it was managed.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from enum import StrEnum

from rules.judge.events import Finding
from rules.packs.condition_facts import calls_awaited, signals_read
from rules.packs.model import FindingKind, Item, Pack, Watch
from rules.signals.model import FIGURE_PREFIX, TRIP_PREFIX

OUTSIDE_CREW = frozenset({"ground", "atc", "cabin"})
"""Callers who speak with the crew but do not belong to it."""


class ErrorClass(StrEnum):
    """Class of a finding in threat and error management."""

    THREAT = "threat"
    PROCEDURAL = "procedural error"
    HANDLING = "aircraft handling error"
    COMMUNICATION = "communication error"
    UNDESIRED_STATE = "undesired aircraft state"
    NOT_VERIFIABLE = "not verifiable"


class ThreatErrorClassifier:
    """Classifies the findings of one pack."""

    def __init__(self, pack: Pack) -> None:
        """Index the watches of a pack.

        Args:
            pack: the pack that the findings come from.
        """
        self._pack = pack
        self._watches = {watch.id: watch for watch in pack.watches}

    def classify(self, finding: Finding) -> ErrorClass:
        """Return the class of a finding; without its item in the pack, by its kind alone."""
        item = self._pack.items.get(finding.item) or self._watches.get(finding.item)
        reads = _signals_of(item)
        if finding.is_doubt:
            return ErrorClass.NOT_VERIFIABLE
        if finding.kind is FindingKind.AEROPLANE_EVENT:
            return ErrorClass.THREAT
        if finding.kind is FindingKind.LIMIT_EXCEEDED:
            return ErrorClass.UNDESIRED_STATE
        if self._involves_outside_crew(item, finding.kind):
            return ErrorClass.COMMUNICATION
        if finding.kind is FindingKind.WRONG_VALUE and not _reads_trip_only(reads):
            return ErrorClass.HANDLING
        return ErrorClass.PROCEDURAL

    def _involves_outside_crew(self, item: Item | Watch | None, kind: FindingKind) -> bool:
        """True if the finding concerns a call to or from others than the crew."""
        if not isinstance(item, Item):
            return False
        awaited = item.after if kind is FindingKind.TOO_EARLY else item.condition
        return any(
            self._pack.calls[call].by in OUTSIDE_CREW
            for call in calls_awaited(awaited)
            if call in self._pack.calls
        )


def management_text(finding: Finding) -> str:
    """Say if a finding was corrected, and if that was before its phase began (as far as that is known).

    What is not verifiable is no error, so there was nothing to correct.
    """
    if finding.is_doubt:
        return "could be judged later" if finding.corrected else "could not be judged"
    if finding.carried:
        late = " and corrected there" if finding.corrected else ", not corrected"
        return f"carried into the phase{' and waived there' if finding.waived else late}"
    if finding.waived:
        return "waived"
    if not finding.corrected:
        return "not corrected"
    return "corrected before the phase began" if finding.lead_s is not None else "corrected"


def _signals_of(item: Item | Watch | None) -> AbstractSet[str]:
    """Return the signals that an item or watch uses."""
    if isinstance(item, Item):
        return frozenset(item.signals) | signals_read(item.condition)
    return signals_read(item.expect) if item is not None else frozenset()


def _reads_trip_only(reads: AbstractSet[str]) -> bool:
    """True if only trip values and figures calculated from them are used."""
    return bool(reads) and all(name.startswith((TRIP_PREFIX, FIGURE_PREFIX)) for name in reads)
