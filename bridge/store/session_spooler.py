"""Writes the events of one session that the store needs to its spool, on disk, before anybody else receives them.

Stored are phases, gates, findings, notices, calls, waivers, traces, flight times, seats, session events, remarks and gaps
in the data.  Verdicts and samples are only in the recording.

Takes: the events of each step, as a durable subscriber.  Gives: records in a spool.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from bridge.session.change_text import change_columns
from bridge.session.event_bus import StepEvents
from bridge.session.gate_stats import GateStats
from bridge.session.session import Session
from bridge.session.session_events import (
    CourseChanged,
    RemarkAdded,
    SeatAssigned,
    SessionChange,
    SessionEvent,
    SessionRenamed,
)
from bridge.session.threat_error import ThreatErrorClassifier
from bridge.session.waiver_text import waived_item
from bridge.store import spool_records
from bridge.store.spool import SpoolWriter
from bridge.store.spool_records import RecordBody, SessionStartRecord
from rules.judge.events import (
    CallEntered,
    CallUndone,
    DataMissing,
    FindingChanged,
    FindingOpened,
    FlightTimeRecorded,
    Notice,
    PhaseEntered,
    TraceRecorded,
    WaiverBegun,
    WaiverUndone,
)
from rules.packs.model import Pack


class SessionSpooler:
    """Receives the events of each step before all other subscribers.

    Attributes:
        spool: The spool of the session.
    """

    def __init__(
        self, spool: SpoolWriter, pack: Pack, session_start: SessionStartRecord, session: Session
    ) -> None:
        """Write the record of the session's start.

        Args:
            spool: The spool.
            pack: The pack that judges the session.
            session_start: The record of the start.
            session: The session.
        """
        self.spool = spool
        self._session = session
        self._pack = pack
        self._occupants: dict[str, str | None] = {}
        self._name_and_course = session_start.head.name, session_start.head.course
        self._passages = GateStats(pack)
        self._classifier = ThreatErrorClassifier(pack)
        self._phases = {phase.id: phase for phase in pack.phases}
        self._calls = {call.id: call.title for call in pack.calls.values()}
        spool.write(session.utc(), [session_start])

    def __call__(self, step: StepEvents) -> None:
        """Write the records of the events of one step to disk."""
        bodies = list(chain.from_iterable(map(self._bodies_of, step.events)))
        if bodies or self.spool.pending:
            self.spool.write(self._session.utc(), bodies)

    def close(self) -> None:
        """Write that the session was closed, and close the spool."""
        self.spool.write(self._session.utc(), [spool_records.SessionClosedRecord()])
        self.spool.close()

    def _bodies_of(self, event: SessionEvent) -> Iterator[RecordBody]:
        """Yield the record bodies of one event."""
        passage = self._passages.fold(event)
        if passage is not None:
            yield spool_records.GatePassageRecord(passage)
        match event:
            case FindingOpened() | FindingChanged():
                yield spool_records.FindingRecord(event.finding, self._classifier.classify(event.finding))
            case Notice():
                yield spool_records.NoticeRecord(event)
            case TraceRecorded():
                yield spool_records.TraceRecord(event)
            case FlightTimeRecorded():
                yield spool_records.FlightTimeRecord(event)
            case SessionChange():
                yield from self._change_bodies(event)
            case RemarkAdded():
                yield spool_records.RemarkRecord(event)
            case DataMissing():
                yield spool_records.DataGapRecord(event.from_s, event.sim_s, event.records)
            case PhaseEntered() | CallEntered() | CallUndone() | WaiverBegun() | WaiverUndone():
                yield self._progress_body(event)
            case _:
                pass

    def _progress_body(
        self, event: PhaseEntered | CallEntered | CallUndone | WaiverBegun | WaiverUndone
    ) -> RecordBody:
        """Return the record body of a phase, call or waiver."""
        match event:
            case PhaseEntered(sim_s, phase):
                entered = self._phases.get(phase)
                title, code = (entered.title, entered.code) if entered else (phase, "")
                return spool_records.PhaseRecord(sim_s, phase, title, code)
            case CallEntered(sim_s, call, by):
                return spool_records.CallRecord(sim_s, call, self._calls.get(call, call), by)
            case CallUndone():
                return spool_records.CallUndoneRecord(event)
            case WaiverBegun(sim_s, item, reason, by):
                label, gates = waived_item(self._pack, item)
                return spool_records.WaiverRecord(sim_s, item, label, gates, reason, by)
            case WaiverUndone():
                return spool_records.WaiverUndoneRecord(event)

    def _change_bodies(self, event: SessionChange) -> Iterator[RecordBody]:
        """Yield a change of the session, and before it another person in a seat, or another name or course."""
        match event:
            case SeatAssigned(seat=seat, person=person) if self._occupants.get(seat) != person:
                self._occupants[seat] = person
                yield spool_records.SeatRecord(event.sim_s, seat, person)
            case SessionRenamed(name=name):
                yield from self._title_body(name, self._name_and_course[1])
            case CourseChanged(course=course):
                yield from self._title_body(self._name_and_course[0], course)
            case _:
                pass
        yield spool_records.ChangeRecord(event.sim_s, *change_columns(event))

    def _title_body(self, name: str, course: str) -> Iterator[RecordBody]:
        """Yield the name and course if one of them is new."""
        if (name, course) != self._name_and_course:
            self._name_and_course = name, course
            yield spool_records.TitleRecord(name, course)
