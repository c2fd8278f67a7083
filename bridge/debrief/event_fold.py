"""Collects the events of a session into the findings, calls, waivers, notices, phases and gates of its debrief.

Events are placed on the session's time axis.

Takes: events in their order, each with the number of frames before it.  Gives: `EventFold`.
"""

from __future__ import annotations

from dataclasses import replace

from bridge.debrief.gaps import gaps_within
from bridge.debrief.model import (
    DataGap,
    DebriefCall,
    DebriefNotice,
    DebriefTrace,
    DebriefWaiver,
    FindingDetail,
    FlownPhase,
    GateTiming,
)
from bridge.debrief.time_axis import TimeAxis
from bridge.session.gate_stats import GateStats
from bridge.session.journal import Journal
from bridge.session.session_events import (
    CourseChanged,
    RemarkAdded,
    SeatAssigned,
    SessionChange,
    SessionEnded,
    SessionEvent,
    SessionRenamed,
)
from bridge.session.threat_error import ThreatErrorClassifier
from bridge.session.waiver_text import waived_item
from rules.judge.events import (
    CallEntered,
    CallUndone,
    DataMissing,
    Finding,
    FindingChanged,
    FindingOpened,
    ItemStatus,
    MonitorsReset,
    Notice,
    PhaseEntered,
    TraceRecorded,
    VerdictChanged,
    WaiverBegun,
    WaiverUndone,
)
from rules.packs.model import Pack


class EventFold:
    """A fold over the events of a session.

    Attributes:
        findings: the findings by their numbers, without their evidence.
        status_changes: the changes of each item's status, as time and status.
        crew: the last person in each seat; seat to pseudonym.
        name: the last name that was given, '' if the session was not renamed.
        course: the last course, '' for none; None if it was not changed.
        ended_utc: the end of the session in seconds since 1970, None if it was not ended.
    """

    def __init__(self, pack: Pack, axis: TimeAxis, began_utc: float) -> None:
        """Start without events.

        Args:
            pack: contains the titles.
            axis: the session's time axis.
            began_utc: the start of the session in seconds since 1970.
        """
        self.findings: dict[int, FindingDetail] = {}
        self.status_changes: dict[str, list[tuple[float, ItemStatus]]] = {}
        self.calls: list[DebriefCall] = []
        self.notices: list[DebriefNotice] = []
        self.remarks: list[RemarkAdded] = []
        self.session_changes: list[SessionChange] = []
        self.traces: list[DebriefTrace] = []
        self.phases: list[FlownPhase] = []
        self.gaps: list[DataGap] = []
        self.waivers: list[DebriefWaiver] = []
        self.crew: dict[str, str] = {}
        self.name, self.course, self.ended_utc = "", None, None
        self.journal = Journal()
        self._pack, self._axis, self._began_utc = pack, axis, began_utc
        self._gate_stats = GateStats(pack)
        self._gates: dict[int, GateTiming] = {}
        self._pack_phases = {phase.id: phase for phase in pack.phases}
        self._gate_titles = {gate.id: gate.title for gate in pack.gates}
        self._classifier = ThreatErrorClassifier(pack)
        self._call_titles = {call.id: call.title for call in pack.calls.values()}
        self._named_seats: set[str] = set()

    name: str
    course: str | None
    ended_utc: float | None

    def fold(self, event: SessionEvent, frame_count: int) -> None:
        """Add one event.

        Args:
            event: the event.
            frame_count: the number of frames before it.
        """
        at_s, utc = self._axis.at_s(frame_count, event.sim_s), self._axis.utc(frame_count, self._began_utc)
        self.journal(event)
        self._fold_gate(event, frame_count, at_s)
        match event:
            case FindingOpened() | FindingChanged():
                self._fold_finding(event.finding, frame_count, utc)
            case VerdictChanged():
                self.status_changes.setdefault(event.item, []).append((at_s, event.status))
            case Notice():
                self.notices.append(DebriefNotice(at_s, utc, event))
            case PhaseEntered():
                self._enter_phase(event.phase, at_s, utc)
            case CallEntered() | CallUndone() | WaiverBegun() | WaiverUndone():
                self._fold_request(event, at_s, utc)
            case TraceRecorded():
                began_s = at_s - (event.ended_s - event.began_s) if event.ended_s >= event.began_s else at_s
                self.traces.append(DebriefTrace(began_s, event, gaps_within(self.gaps, began_s, at_s)))
            case MonitorsReset() | DataMissing():
                self._fold_break(event, at_s)
            case RemarkAdded():
                self.remarks.append(event)
            case SessionChange():
                self._fold_change(event)
            case _:
                pass

    @property
    def gates(self) -> tuple[GateTiming, ...]:
        """Every gate that was cued, in the order of its first cue."""
        return tuple(self._gates[number] for number in sorted(self._gates))

    def _fold_finding(self, finding: Finding, frame_count: int, utc: float) -> None:
        at_s = self._axis.at_s(frame_count, finding.sim_s)
        before = self.findings.get(finding.number)
        opened_s, closed_at_s = (at_s, None) if before is None else (before.at_s, before.closed_at_s)
        if finding.closed_s is None:
            # A finding that was closed can apply again.  It is still the same error, so it is open again:
            #   opened 10 s, closed 12 s, open again 15 s, closed 20 s  ->  one span from 10 s to 20 s
            closed_at_s = None
        elif before is None or closed_at_s is None or finding.closed_s != before.finding.closed_s:
            closed_at_s = max(opened_s, self._axis.at_s(frame_count, finding.closed_s))
        in_pack = self._pack_phases.get(finding.phase)
        self.findings[finding.number] = FindingDetail(
            finding,
            self._classifier.classify(finding),
            self._gate_titles.get(finding.gate, finding.gate),
            in_pack.title if in_pack else finding.phase,
            opened_s,
            closed_at_s,
            utc if before is None else before.utc,
            self.crew.get(finding.seat, "") if before is None else before.person,
        )

    def _fold_gate(self, event: SessionEvent, frame_count: int, at_s: float) -> None:
        """Update the timing of a gate that is cued or entered."""
        passage = self._gate_stats.fold(event)
        if passage is None:
            return
        entered_s = at_s if passage.entered_s is not None else None
        cue_s = (
            self._gates[passage.number].cue_at_s
            if entered_s is not None
            else self._axis.at_s(frame_count, passage.cue_s)
        )
        self._gates[passage.number] = GateTiming(passage, cue_s, entered_s)

    def _enter_phase(self, phase: str, at_s: float, utc: float) -> None:
        """End the previous phase and begin this one."""
        if self.phases:
            self.phases[-1] = replace(self.phases[-1], to_s=at_s)
        in_pack = self._pack_phases.get(phase)
        title, code = (in_pack.title, in_pack.code) if in_pack else (phase, "")
        self.phases.append(FlownPhase(phase, title, code, at_s, self._axis.to_s, utc))

    def _fold_request(
        self, event: CallEntered | CallUndone | WaiverBegun | WaiverUndone, at_s: float, utc: float
    ) -> None:
        match event:
            case CallEntered(call=call, by=by):
                self.calls.append(DebriefCall(at_s, utc, call, self._call_titles.get(call, call), by))
            case CallUndone():
                self._undo_call(event, at_s)
            case WaiverBegun(item=item, reason=reason, by=by):
                about = waived_item(self._pack, item)
                self.waivers.append(DebriefWaiver(at_s, utc, item, *about, reason, by))
            case WaiverUndone():
                self._end_waiver(event, at_s)

    def _undo_call(self, event: CallUndone, at_s: float) -> None:
        for number in range(len(self.calls) - 1, -1, -1):
            if self.calls[number].call == event.call and self.calls[number].undone_at_s is None:
                self.calls[number] = replace(self.calls[number], undone_at_s=at_s)
                return

    def _end_waiver(self, event: WaiverUndone, at_s: float) -> None:
        """End the waiver of an item, which has one at a time; where its begin was not recorded, it began before the axis."""
        running = (n for n, w in enumerate(self.waivers) if w.item == event.item and w.to_s is None)
        number = next(running, None)
        if number is None:
            about = waived_item(self._pack, event.item)
            unknown = DebriefWaiver(self._axis.from_s, self._began_utc, event.item, *about, "", "")
            self.waivers.append(unknown)
            number = len(self.waivers) - 1
        self.waivers[number] = replace(
            self.waivers[number], to_s=at_s, undone_by=event.by, undone_reason=event.reason
        )

    def _fold_break(self, event: MonitorsReset | DataMissing, at_s: float) -> None:
        """Note a gap in the data; after a jump back of the clock, make every status unknown."""
        if isinstance(event, DataMissing):
            self.gaps.append(DataGap(at_s - event.missing_s, at_s, event.from_s, event.records))
            return
        for changes in self.status_changes.values():
            changes.append((at_s, ItemStatus.NO_DATA))

    def _fold_change(self, change: SessionChange) -> None:
        self.session_changes.append(change)
        match change:
            case SessionRenamed(name=name):
                self.name = name
            case CourseChanged(course=course):
                self.course = course
            case SeatAssigned(seat=seat, person=person):
                self._assign_seat(seat, person)
            case SessionEnded(utc=utc):
                self.ended_utc = utc
            case _:
                pass

    def _assign_seat(self, seat: str, person: str | None) -> None:
        """Assign or clear a seat.

        The first person named in a seat also gets the earlier findings of that seat: names are often entered late.
        """
        if person is None:
            self.crew.pop(seat, None)
            return
        self.crew[seat] = person
        if seat not in self._named_seats:
            self._named_seats.add(seat)
            for number, detail in self.findings.items():
                if detail.finding.seat == seat:
                    self.findings[number] = replace(detail, person=person)
