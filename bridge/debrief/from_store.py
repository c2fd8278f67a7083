"""Gathers a session from the store, where its recording is gone: without flows and without evidence.

Takes: a connection, the id of a session, its pack if that is here.  Gives: `Account`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec
from sqlalchemy import Connection, Table, select

from bridge.debrief.calculations import figure_calculations, trip_sheet_values
from bridge.debrief.model import (
    DebriefCall,
    DebriefData,
    DebriefNotice,
    DebriefTrace,
    FindingDetail,
    FlownPhase,
    GateTiming,
)
from bridge.session.gate_stats import GatePassage
from bridge.session.session_events import RemarkAdded, SessionChanged
from bridge.session.threat_error import ErrorClass, management_text
from bridge.store import schema
from bridge.terminal.live_view import SHORT_CAUTION
from rules.judge.events import Finding, FlightTimeRecorded, Notice, TraceRecorded
from rules.packs.model import OooiMoment, Pack

RECORDING_DELETED = (
    "The recording of this session is gone: its flows and the signals around its findings are not here."
)


def debrief_from_store(connection: Connection, session: str, pack: Pack | None) -> DebriefData:
    """Gather a session from its rows.

    Args:
        connection: to the store.
        session: its id; it is there.
        pack: by which it was judged, for the titles; None where that is not here.
    """
    row = connection.execute(select(schema.session).where(schema.session.c.id == session)).one()
    rows = {table.name: _rows(connection, table, session) for table in schema.SESSION_TABLES}
    people = dict(connection.execute(select(schema.person.c.id, schema.person.c.pseudonym)).all())
    stages = _phases(rows["phase"])
    strips = tuple(DebriefTrace(strip.began_s, strip.record) for strip in map(_trace, rows["trace"]))
    titles = {gate.id: gate.title for gate in pack.gates} if pack else {}
    phases = {stage.id: stage.title for stage in stages}
    in_strip = {number: at for at, strip in enumerate(strips) for number in strip.record.findings}
    cases = tuple(
        FindingDetail(
            finding := _finding(found),
            ErrorClass(found.error_class),
            management_text(finding),
            titles.get(found.gate, found.gate),
            phases.get(found.phase, found.phase),
            found.sim_s,
            found.closed_s,
            found.utc,
            people.get(found.person, ""),
            in_strip.get(found.number),
        )
        for found in rows["finding"]
    )
    return DebriefData(
        uuid=row.id,
        name=row.name,
        course=row.course,
        device=row.device,
        device_title=row.device_title,
        began_utc=row.began_utc,
        ended_utc=row.ended_utc,
        ending=row.ending,
        program=row.program,
        pack=row.pack,
        pack_title=row.pack_title,
        pack_version=row.pack_version,
        trip_sheet_title=row.trip_title,
        caution=pack.disclaimer if pack is not None else SHORT_CAUTION,
        seats=row.seats,
        crew={seat.seat: people[seat.person] for seat in rows["seating"] if seat.person in people},
        from_s=stages[0].from_s if stages else 0.0,
        to_s=_last_time_s(rows, stages),
        phases=_with_ends(stages, _last_time_s(rows, stages)),
        findings=cases,
        gates=tuple(_gate(passed) for passed in rows["gate_passage"]),
        calls=tuple(DebriefCall(c.sim_s, c.utc, c.call, c.title, c.by, c.undone_s) for c in rows["call"]),
        notices=tuple(DebriefNotice(n.sim_s, n.utc, _notice(n)) for n in rows["notice"]),
        remarks=tuple(RemarkAdded(r.sim_s, r.utc, r.text, r.by) for r in rows["remark"] if not r.change),
        session_events=tuple(_session_event(r) for r in rows["remark"] if r.change),
        flight_times=_flight_times(rows["flight_time"]),
        traces=strips,
        trip_values=trip_sheet_values(pack, row.trip) if pack is not None else (),
        calculations=figure_calculations(pack, row.trip, {}) if pack is not None else (),
        faults=(RECORDING_DELETED,),
    )


class _StoredTrace(msgspec.Struct):
    began_s: float
    record: TraceRecorded


def _rows(connection: Connection, table: Table, session: str) -> Sequence[Any]:
    rows = select(table).where(table.c.session == session).order_by(*table.primary_key.columns)
    return connection.execute(rows).all()


def _phases(rows: Sequence[Any]) -> list[FlownPhase]:
    return [FlownPhase(r.phase, r.title, r.code, r.sim_s, r.sim_s, r.utc) for r in rows]


def _with_ends(phases: list[FlownPhase], to_s: float) -> tuple[FlownPhase, ...]:
    """Each phase ends where the next one begins."""
    ends = [stage.from_s for stage in phases[1:]] + [to_s]
    return tuple(
        FlownPhase(s.id, s.title, s.code, s.from_s, max(end, s.from_s), s.utc)
        for s, end in zip(phases, ends, strict=True)
    )


def _last_time_s(rows: Mapping[str, Sequence[Any]], phases: list[FlownPhase]) -> float:
    """The last moment of which anything is known."""
    told: list[float] = [row.sim_s for name in ("notice", "call", "phase", "finding") for row in rows[name]]
    return max([*told, *(stage.from_s for stage in phases), 0.0])


def _fields(row: Any) -> dict[str, Any]:  # noqa: ANN401 - a row
    """A row by its columns, whose names are those that entries have outside; SQLAlchemy's are no plain text."""
    return {str(name): value for name, value in row._asdict().items()}


def _finding(row: Any) -> Finding:  # noqa: ANN401 - a row
    return msgspec.convert(_fields(row), Finding)


def _notice(row: Any) -> Notice:  # noqa: ANN401 - a row
    return msgspec.convert(_fields(row), Notice)


def _session_event(row: Any) -> SessionChanged:  # noqa: ANN401 - a row
    return msgspec.convert(_fields(row), SessionChanged)


def _gate(row: Any) -> GateTiming:  # noqa: ANN401 - a row
    passage = msgspec.convert(_fields(row), GatePassage)
    return GateTiming(passage, passage.cue_s, passage.entered_s)


def _trace(row: Any) -> _StoredTrace:  # noqa: ANN401 - a row
    kept = {
        "sim_s": row.ended_s,
        "trace": row.trace,
        "title": row.title,
        "began_s": row.began_s,
        "ended_s": row.ended_s,
        "end": row.ending,
        "times_s": row.times,
        "columns": row.columns,
        "marks": row.marks,
        "limits": row.limits,
        "findings": row.findings,
    }
    return _StoredTrace(row.began_s, msgspec.convert(kept, TraceRecorded))


def _flight_times(rows: Sequence[Any]) -> dict[int, dict[OooiMoment, FlightTimeRecorded]]:
    times: dict[int, dict[OooiMoment, FlightTimeRecorded]] = {}
    for row in rows:
        moment = OooiMoment(row.moment)
        noted = FlightTimeRecorded(
            row.at_s, moment, row.sector, row.at_s, row.utc_s, row.block_s, row.flight_s
        )
        times.setdefault(row.sector, {})[moment] = noted
    return times
