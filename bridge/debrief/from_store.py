"""Loads the debrief of a session from the store if its recording is gone: without flows and evidence.

Takes: a connection, the id of a session, its pack if that is available.  Gives: `DebriefData`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import msgspec
from sqlalchemy import Connection, Table, select

from bridge.common.disclaimer import SHORT_DISCLAIMER
from bridge.debrief.calculations import figure_calculations, trip_sheet_values
from bridge.debrief.gaps import gaps_within
from bridge.debrief.model import (
    DataGap,
    DebriefCall,
    DebriefData,
    DebriefNotice,
    DebriefTrace,
    DebriefWaiver,
    FindingDetail,
    FlownPhase,
    GateTiming,
)
from bridge.session.change_text import ChangeColumns, change_from_columns
from bridge.session.gate_stats import GatePassage
from bridge.session.session_events import RemarkAdded
from bridge.session.threat_error import ErrorClass
from bridge.store import schema
from bridge.store.schema import BROKEN_OFF
from rules.judge.events import Finding, FlightTimeRecorded, Notice, TraceRecorded
from rules.packs.model import OooiMoment, Pack

NOT_RECORDED = "This session was not recorded: its flows and the signals around its findings are missing."
RECORDING_NOT_FOUND = (
    "The recording of this session was not found: its flows and the signals around its findings are missing."
)

NOT_ENDED = "The session still runs, or its last events are not in the store yet. Later data is missing."
SESSION_BROKE_OFF = "The session broke off: its program ended without closing it. Later data is missing."
_TIMED_ROWS = ("phase", "notice", "call", "remark", "seating")
"""Tables whose rows have the number of a record and the simulator's time at which it was made."""


def debrief_from_store(connection: Connection, session: str, pack: Pack | None) -> DebriefData:
    """Load a session from its rows.

    Args:
        connection: to the store.
        session: the id of a session in the store.
        pack: the pack that judged it, for the titles; None if it is not available.
    """
    row = connection.execute(select(schema.session).where(schema.session.c.id == session)).one()
    rows = {table.name: _rows(connection, table, session) for table in schema.SESSION_TABLES}
    people = dict(connection.execute(select(schema.person.c.id, schema.person.c.pseudonym)).all())
    phases = _phases(rows["phase"])
    gaps = tuple(map(_gap, rows["data_gap"]))
    traces = tuple(
        DebriefTrace(row.began_s, _trace(row), gaps_within(_gaps_before(row, rows), row.began_s, row.ended_s))
        for row in rows["trace"]
    )
    gate_titles = {gate.id: gate.title for gate in pack.gates} if pack else {}
    phase_titles = {phase.id: phase.title for phase in phases}
    trace_indexes = {number: index for index, trace in enumerate(traces) for number in trace.record.findings}
    details = tuple(
        FindingDetail(
            _finding(found),
            ErrorClass(found.error_class),
            gate_titles.get(found.gate, found.gate),
            phase_titles.get(found.phase, found.phase),
            found.sim_s,
            found.closed_s,
            found.utc,
            people.get(found.person, ""),
            trace_indexes.get(found.number),
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
        disclaimer=pack.disclaimer if pack is not None else SHORT_DISCLAIMER,
        seats=row.seats,
        crew={seat.seat: people[seat.person] for seat in rows["seating"] if seat.person in people},
        from_s=phases[0].from_s if phases else 0.0,
        to_s=_last_time_s(rows, phases),
        phases=_with_ends(phases, _last_time_s(rows, phases)),
        findings=details,
        gates=tuple(_gate(row) for row in rows["gate_passage"]),
        calls=tuple(DebriefCall(c.sim_s, c.utc, c.call, c.title, c.by, c.undone_s) for c in rows["call"]),
        notices=tuple(DebriefNotice(n.sim_s, n.utc, _notice(n)) for n in rows["notice"]),
        remarks=tuple(RemarkAdded(r.sim_s, r.utc, r.text, r.by) for r in rows["remark"] if not r.change),
        session_changes=tuple(
            change_from_columns(ChangeColumns(r.change, r.seat, r.text, r.by), r.sim_s, r.utc)
            for r in rows["remark"]
            if r.change
        ),
        flight_times=_flight_times(rows["flight_time"]),
        traces=traces,
        trip_values=trip_sheet_values(pack, row.trip) if pack is not None else (),
        calculations=figure_calculations(pack, row.trip, {}) if pack is not None else (),
        faults=tuple(_faults(row)),
        gaps=gaps,
        waivers=tuple(_waiver(row) for row in rows["waiver"]),
    )


def _faults(row: Any) -> Iterator[str]:  # noqa: ANN401 - a row
    """Sentences on the data that is missing, with the reason."""
    yield RECORDING_NOT_FOUND if row.recording else NOT_RECORDED
    if not row.ending:
        yield NOT_ENDED
    elif row.ending == BROKEN_OFF:
        yield SESSION_BROKE_OFF


def _rows(connection: Connection, table: Table, session: str) -> Sequence[Any]:
    rows = select(table).where(table.c.session == session).order_by(*table.primary_key.columns)
    return connection.execute(rows).all()


def _phases(rows: Sequence[Any]) -> list[FlownPhase]:
    return [FlownPhase(r.phase, r.title, r.code, r.sim_s, r.sim_s, r.utc) for r in rows]


def _with_ends(phases: list[FlownPhase], to_s: float) -> tuple[FlownPhase, ...]:
    """Set the end of each phase to the start of the next one."""
    ends = [phase.from_s for phase in phases[1:]] + [to_s]
    return tuple(
        FlownPhase(s.id, s.title, s.code, s.from_s, max(end, s.from_s), s.utc)
        for s, end in zip(phases, ends, strict=True)
    )


def _last_time_s(rows: Mapping[str, Sequence[Any]], phases: list[FlownPhase]) -> float:
    """The time of the last event in the store."""
    times_s: list[float] = [
        row.sim_s for name in ("notice", "call", "phase", "finding") for row in rows[name]
    ]
    return max([*times_s, *(phase.from_s for phase in phases), 0.0])


def _fields(row: Any) -> dict[str, Any]:  # noqa: ANN401 - a row
    """A row by its columns, whose names are those that entries have outside; SQLAlchemy's are no plain text."""
    return {str(name): value for name, value in row._asdict().items()}


def _finding(row: Any) -> Finding:  # noqa: ANN401 - a row
    return msgspec.convert(_fields(row), Finding)


def _notice(row: Any) -> Notice:  # noqa: ANN401 - a row
    return msgspec.convert(_fields(row), Notice)


def _gate(row: Any) -> GateTiming:  # noqa: ANN401 - a row
    passage = msgspec.convert(_fields(row), GatePassage)
    return GateTiming(passage, passage.cue_s, passage.entered_s)


def _waiver(row: Any) -> DebriefWaiver:  # noqa: ANN401 - a row
    fields = {name: value for name, value in _fields(row).items() if name not in ("session", "number")}
    return DebriefWaiver(**{**fields, "gates": tuple(row.gates)})


def _trace(row: Any) -> TraceRecorded:  # noqa: ANN401 - a row
    fields = {
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
    return msgspec.convert(fields, TraceRecorded)


def _gap(row: Any) -> DataGap:  # noqa: ANN401 - a row
    return DataGap(row.from_s, row.to_s, row.from_s, row.records)


def _gaps_before(trace: Any, rows: Mapping[str, Sequence[Any]]) -> Iterator[DataGap]:  # noqa: ANN401 - a row
    """Yield the gaps before a trace was recorded, by the same clock: times may repeat after the clock jumped back.

    number   4 gap to 110 s     5 phase at 20 s     9 trace from 90 to 130 s     the gap is not in the trace
    """
    times_s = [(row.number, row.sim_s) for name in _TIMED_ROWS for row in rows[name]]
    for row in rows["data_gap"]:
        later_s = [sim_s for number, sim_s in times_s if row.number < number < trace.number]
        if row.number < trace.number and min(later_s, default=row.to_s) >= row.to_s:
            yield _gap(row)


def _flight_times(rows: Sequence[Any]) -> dict[int, dict[OooiMoment, FlightTimeRecorded]]:
    times: dict[int, dict[OooiMoment, FlightTimeRecorded]] = {}
    for row in rows:
        moment = OooiMoment(row.moment)
        times.setdefault(row.sector, {})[moment] = FlightTimeRecorded(
            row.at_s, moment, row.sector, row.at_s, row.utc_s, row.block_s, row.flight_s
        )
    return times
