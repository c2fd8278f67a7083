"""Collects what the judge reports of a flight: phases, gates, findings, notices, and the items that were seen to be met.

Takes: events.  Gives: `JudgedEvents`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from rules.judge.events import (
    FindingOpened,
    GateEntered,
    JudgeEvent,
    Notice,
    PhaseEntered,
    Verdict,
    VerdictChanged,
)


@dataclass(slots=True)
class JudgedEvents:
    """Events of one flight, each kind in its order.

    Attributes:
        entered: The phases that were entered.
        met: Items that were met, where they applied.
    """

    entered: list[str] = field(default_factory=list)
    gates: list[GateEntered] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    findings: list[FindingOpened] = field(default_factory=list)
    met: set[str] = field(default_factory=set)

    def add(self, events: Iterable[JudgeEvent]) -> None:
        """Add the events of a step."""
        for event in events:
            match event:
                case PhaseEntered(phase=phase):
                    self.entered.append(phase)
                case GateEntered():
                    self.gates.append(event)
                case Notice():
                    self.notices.append(event)
                case FindingOpened():
                    self.findings.append(event)
                case VerdictChanged(item=item, verdict=Verdict.MET, sentence=sentence) if (
                    sentence != "does not apply"
                ):
                    self.met.add(item)
