"""The events of a session so far, in memory, for screens and summaries.

Takes: events, as a subscriber.  Gives: findings, notices, phases and gates in their order, and the times of each flight.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, ClassVar

import msgspec

from bridge.session.session_events import SessionEvent
from rules.judge.events import (
    CallEntered,
    DataMissing,
    Finding,
    FindingChanged,
    FindingOpened,
    FlightTimeRecorded,
    GateCued,
    GateEntered,
    MonitorsReset,
    Notice,
    PhaseEntered,
    TraceRecorded,
    WaiverBegun,
    WaiverUndone,
)
from rules.packs.model import OooiMoment


@dataclass(slots=True)
class Journal:
    """A subscriber that collects events by their type."""

    EVENTS: ClassVar[tuple[type, ...]] = (
        FindingOpened,
        FindingChanged,
        Notice,
        PhaseEntered,
        GateCued,
        GateEntered,
        CallEntered,
        WaiverBegun,
        WaiverUndone,
        TraceRecorded,
        FlightTimeRecorded,
        MonitorsReset,
        DataMissing,
    )
    """The types that it collects; others have no effect."""

    findings: dict[int, Finding] = field(default_factory=dict)
    notices: list[Notice] = field(default_factory=list)
    phases: list[PhaseEntered] = field(default_factory=list)
    gate_events: list[GateCued | GateEntered] = field(default_factory=list)
    calls: list[CallEntered] = field(default_factory=list)
    waivers: list[WaiverBegun | WaiverUndone] = field(default_factory=list)
    traces: list[TraceRecorded] = field(default_factory=list)
    flight_times: dict[int, dict[OooiMoment, FlightTimeRecorded]] = field(default_factory=dict)
    gaps: list[DataMissing] = field(default_factory=list)
    resets: int = 0

    def __call__(self, event: SessionEvent) -> None:
        """Add one event."""
        match event:
            case FindingOpened() | FindingChanged():
                self.findings[event.finding.number] = event.finding
            case Notice():
                self.notices.append(event)
            case PhaseEntered():
                self.phases.append(event)
            case GateCued() | GateEntered():
                self.gate_events.append(event)
            case CallEntered():
                self.calls.append(event)
            case WaiverBegun() | WaiverUndone():
                self.waivers.append(event)
            case TraceRecorded():
                self.traces.append(event)
            case FlightTimeRecorded():
                self.flight_times.setdefault(event.sector, {})[event.moment] = event
            case DataMissing() | MonitorsReset():
                self._add_break(event)

    def _add_break(self, event: DataMissing | MonitorsReset) -> None:
        """Add a gap in the data, or count a jump of the clock."""
        if isinstance(event, DataMissing):
            self.gaps.append(event)
        else:
            self.resets += 1

    @property
    def gates_entered(self) -> list[GateEntered]:
        """Gates that were entered, in their order."""
        return [event for event in self.gate_events if isinstance(event, GateEntered)]

    def as_dict(self) -> dict[str, Any]:
        """Return findings, notices, phases, entered gates and flight times as plain data, for JSON."""
        return {
            "findings": msgspec.to_builtins(list(self.findings.values())),
            "notices": msgspec.to_builtins(self.notices),
            "phases": msgspec.to_builtins(self.phases),
            "gates": msgspec.to_builtins(self.gates_entered),
            "flight_times": msgspec.to_builtins(
                [one for sector in self.flight_times.values() for one in sector.values()]
            ),
        }
