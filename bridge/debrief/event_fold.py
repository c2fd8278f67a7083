"""What was told in a session, put on its axis of time.

Takes: entries and notes in their order, each with its place on the tape.  Gives: `Story`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from bridge.debrief.model import DebriefCall, DebriefNotice, DebriefTrace, FlownPhase, GateTiming
from bridge.debrief.time_axis import TimeAxis
from bridge.session.gate_stats import GateStats
from bridge.session.journal import Journal
from bridge.session.session_events import RemarkAdded, SessionChanged, SessionChangeKind
from bridge.session.session_events import SessionEvent as Entry
from rules.judge.events import (
    CallEntered,
    CallUndone,
    Finding,
    FindingChanged,
    FindingOpened,
    ItemStatus,
    MonitorsReset,
    Notice,
    PhaseEntered,
    TraceRecorded,
    VerdictChanged,
)
from rules.packs.model import Pack


class FindingSpan:
    """A finding as it was told last, and when it came and went on the axis."""

    __slots__ = ("at_s", "closed_at_s", "finding", "person", "utc")

    def __init__(self, finding: Finding, at_s: float, utc: float, person: str) -> None:
        """It opens."""
        self.finding, self.at_s, self.utc, self.person = finding, at_s, utc, person
        self.closed_at_s: float | None = None


class EventFold:
    """A fold over all that was told.

    Attributes:
        found: the findings by their numbers.
        lives: of each item when it came to stand how.
        crew: who sat where last; seat to pseudonym.
        ended_utc: when it was ended, None where it was not.
    """

    def __init__(self, pack: Pack, axis: TimeAxis, began_utc: float) -> None:
        """Nothing was told yet.

        Args:
            pack: has the titles.
            axis: the session's time.
            began_utc: when it began, in seconds since 1970.
        """
        self.findings: dict[int, FindingSpan] = {}
        self.life_changes: dict[str, list[tuple[float, ItemStatus]]] = {}
        self.calls: list[DebriefCall] = []
        self.notices: list[DebriefNotice] = []
        self.remarks: list[RemarkAdded] = []
        self.session_events: list[SessionChanged] = []
        self.traces: list[DebriefTrace] = []
        self.phases: list[FlownPhase] = []
        self.crew: dict[str, str] = {}
        self.name, self.course, self.ended_utc = "", "", None
        self.journal = Journal()
        self._pack, self._axis, self._began_utc = pack, axis, began_utc
        self._passages = GateStats(pack)
        self._gates: dict[int, GateTiming] = {}
        self._pack_phases = {phase.id: phase for phase in pack.phases}
        self._call_titles = {call.id: call.title for call in pack.calls.values()}
        self._named_seats: set[str] = set()

    name: str
    course: str
    ended_utc: float | None

    def fold(self, event: Entry, frame_count: int) -> None:
        """Take one entry or note.

        Args:
            event: what was told.
            frame_count: how many frames were on the tape by then.
        """
        at_s, utc = self._axis.at_s(frame_count, event.sim_s), self._axis.utc(frame_count, self._began_utc)
        self.journal(event)
        self._fold_gate(event, frame_count, at_s)
        match event:
            case FindingOpened() | FindingChanged():
                self._fold_finding(event.finding, frame_count, utc)
            case VerdictChanged():
                self.life_changes.setdefault(event.item, []).append((at_s, event.status))
            case Notice():
                self.notices.append(DebriefNotice(at_s, utc, event))
            case PhaseEntered():
                self._enter_phase(event.phase, at_s, utc)
            case CallEntered() | CallUndone():
                self._fold_call(event, at_s, utc)
            case TraceRecorded():
                began_s = at_s - (event.ended_s - event.began_s) if event.ended_s >= event.began_s else at_s
                self.traces.append(DebriefTrace(began_s, event))
            case MonitorsReset():
                self._clear_lives(at_s)
            case RemarkAdded():
                self.remarks.append(event)
            case SessionChanged():
                self._fold_session_event(event)
            case _:
                pass

    @property
    def gates(self) -> tuple[GateTiming, ...]:
        """Every gate that was cued, in the order of the cues."""
        return tuple(self._gates[number] for number in sorted(self._gates))

    def _fold_finding(self, finding: Finding, frame_count: int, utc: float) -> None:
        at_s = self._axis.at_s(frame_count, finding.sim_s)
        found = self.findings.get(finding.number)
        if found is None:
            found = self.findings[finding.number] = FindingSpan(
                finding, at_s, utc, self.crew.get(finding.seat, "")
            )
        if finding.closed_s is None:
            found.closed_at_s = None  # what did not apply for a while applies again: one error, open still
        elif finding.closed_s != found.finding.closed_s or found.closed_at_s is None:
            found.closed_at_s = max(found.at_s, self._axis.at_s(frame_count, finding.closed_s))
        found.finding = finding

    def _fold_gate(self, event: Entry, frame_count: int, at_s: float) -> None:
        """A gate is cued or entered."""
        passage = self._passages.fold(event)
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
        """The phase before ends where this one begins."""
        if self.phases:
            self.phases[-1] = replace(self.phases[-1], to_s=at_s)
        known = self._pack_phases.get(phase)
        title, code = (known.title, known.code) if known else (phase, "")
        self.phases.append(FlownPhase(phase, title, code, at_s, self._axis.to_s, utc))

    def _fold_call(self, event: CallEntered | CallUndone, at_s: float, utc: float) -> None:
        if isinstance(event, CallEntered):
            title = self._call_titles.get(event.call, event.call)
            self.calls.append(DebriefCall(at_s, utc, event.call, title, event.by))
            return
        for number in range(len(self.calls) - 1, -1, -1):
            if self.calls[number].call == event.call and self.calls[number].undone_at_s is None:
                self.calls[number] = replace(self.calls[number], undone_at_s=at_s)
                return

    def _clear_lives(self, at_s: float) -> None:
        """After a jump back nothing is known of any item."""
        for lives in self.life_changes.values():
            lives.append((at_s, ItemStatus.NO_DATA))

    def _fold_session_event(self, event: SessionChanged) -> None:
        self.session_events.append(event)
        match event.change:
            case SessionChangeKind.NAMED:
                self.name = event.text
            case SessionChangeKind.COURSE_SET:
                self.course = "" if event.text == "none" else event.text
            case SessionChangeKind.SEAT_ASSIGNED:
                self._fold_seat(event.text)
            case SessionChangeKind.ENDED:
                self.ended_utc = event.utc
            case _:
                pass

    def _fold_seat(self, text: str) -> None:
        """`Captain: Heron`, or `nobody is named for Captain`; who is named first in a seat has sat there all the time."""
        for seat, title in self._pack.seats.items():
            if text.startswith(f"{title}: "):
                self.crew[seat] = who = text.removeprefix(f"{title}: ")
                if seat not in self._named_seats:
                    self._named_seats.add(seat)
                    for found in self.findings.values():
                        found.person = who if found.finding.seat == seat else found.person
            elif text == f"nobody is named for {title}":
                self.crew.pop(seat, None)


def gate_and_phase_titles(pack: Pack) -> tuple[Mapping[str, str], Mapping[str, str]]:
    """The titles of gates and of phases, by their ids."""
    return {gate.id: gate.title for gate in pack.gates}, {phase.id: phase.title for phase in pack.phases}
