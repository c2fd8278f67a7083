"""Writes the events of one session that the store needs to its spool, on disk, before any listener receives them.

Stored are phases, gates, findings, notices, calls, traces, flight times, seats, session events and remarks.  Verdicts
and samples are only in the recording.

Takes: events that a session is about to publish.  Gives: records in a spool.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain

from bridge.session.gate_stats import GateStats
from bridge.session.session import Session
from bridge.session.session_events import RemarkAdded, SessionChanged, SessionChangeKind, SessionEvent
from bridge.session.threat_error import ThreatErrorClassifier
from bridge.store import spool_records
from bridge.store.spool import SpoolWriter
from bridge.store.spool_records import RecordBody, SessionStartRecord
from rules.judge.events import (
    CallEntered,
    CallUndone,
    FindingChanged,
    FindingOpened,
    FlightTimeRecorded,
    Notice,
    PhaseEntered,
    TraceRecorded,
)
from rules.packs.model import Pack


class SessionSpooler:
    """Receives the events of a session before all listeners.

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
        self._occupants: dict[str, str] = {}
        self._name_and_course = session_start.head.name, session_start.head.course
        self._passages = GateStats(pack)
        self._classifier = ThreatErrorClassifier(pack)
        self._phases = {phase.id: phase for phase in pack.phases}
        self._calls = {call.id: call.title for call in pack.calls.values()}
        spool.write(session.utc(), [session_start])

    def __call__(self, events: Sequence[SessionEvent]) -> None:
        """Write the records of these events to disk."""
        bodies = list(chain.from_iterable(map(self._bodies_of, events)))
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
            case SessionChanged() | RemarkAdded():
                yield from self._session_event_bodies(event)
            case PhaseEntered() | CallEntered() | CallUndone():
                yield self._progress_body(event)
            case _:
                pass

    def _progress_body(self, event: PhaseEntered | CallEntered | CallUndone) -> RecordBody:
        """Return the record body of a phase or call."""
        match event:
            case PhaseEntered(sim_s, phase):
                entered = self._phases.get(phase)
                title, code = (entered.title, entered.code) if entered else (phase, "")
                return spool_records.PhaseRecord(sim_s, phase, title, code)
            case CallEntered(sim_s, call, by):
                return spool_records.CallRecord(sim_s, call, self._calls.get(call, call), by)
            case CallUndone():
                return spool_records.CallUndoneRecord(event)

    def _session_event_bodies(self, event: SessionChanged | RemarkAdded) -> Iterator[RecordBody]:
        """Yield a session event, and before it changed seats or a changed name."""
        if isinstance(event, RemarkAdded):
            yield spool_records.RemarkRecord(event)
            return
        if event.change is SessionChangeKind.SEAT_ASSIGNED:
            now = dict(self._session.crew)
            for seat in dict.fromkeys([*self._occupants, *now]):
                if self._occupants.get(seat, "") != now.get(seat, ""):
                    yield spool_records.SeatRecord(event.sim_s, seat, now.get(seat, ""))
            self._occupants = now
        elif (title := (self._session.name, self._session.course)) != self._name_and_course:
            self._name_and_course = title
            yield spool_records.TitleRecord(*title)
        yield spool_records.SessionEventRecord(event)
