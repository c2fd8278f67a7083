"""What a session has said so far, kept in memory for screens and summaries.

Takes: entries, as a listener.  Gives: findings, notices, phases and gates in their order, and the times of each flight.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import msgspec

from bridge.notes import Told
from rules.judge.entries import (
    CallEntered,
    Finding,
    FindingChanged,
    FindingOpened,
    GateCued,
    GateEntered,
    MonitorsReset,
    Notice,
    PhaseEntered,
    StripKept,
    TimeNoted,
)
from rules.packs.model import Moment


@dataclass(slots=True)
class Journal:
    """A listener that remembers."""

    findings: dict[int, Finding] = field(default_factory=dict)
    notices: list[Notice] = field(default_factory=list)
    phases: list[PhaseEntered] = field(default_factory=list)
    gates: list[GateCued | GateEntered] = field(default_factory=list)
    calls: list[CallEntered] = field(default_factory=list)
    strips: list[StripKept] = field(default_factory=list)
    times: dict[int, dict[Moment, TimeNoted]] = field(default_factory=dict)
    resets: int = 0

    def __call__(self, entry: Told) -> None:
        """Take one entry."""
        match entry:
            case FindingOpened() | FindingChanged():
                self.findings[entry.finding.number] = entry.finding
            case Notice():
                self.notices.append(entry)
            case PhaseEntered():
                self.phases.append(entry)
            case GateCued() | GateEntered():
                self.gates.append(entry)
            case CallEntered():
                self.calls.append(entry)
            case StripKept():
                self.strips.append(entry)
            case TimeNoted():
                self.times.setdefault(entry.sector, {})[entry.moment] = entry
            case MonitorsReset():
                self.resets += 1

    def as_dict(self) -> dict[str, Any]:
        """The findings, notices, phases and times as plain data, for JSON."""
        return {
            "findings": msgspec.to_builtins(list(self.findings.values())),
            "notices": msgspec.to_builtins(self.notices),
            "phases": msgspec.to_builtins(self.phases),
            "times": msgspec.to_builtins([one for sector in self.times.values() for one in sector.values()]),
        }
