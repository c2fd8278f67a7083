"""Writes spool records into the tables, each exactly once.

The row of a session has the number of the last record that is in the store.  It is written in the same transaction as
the rows of the records, so a transaction that failed, or whose commit was not confirmed, can be repeated:

    spool         1 2 3 4 5 6
    transaction   1 2 3        spool_number = 3   committed, but the answer was lost
    repeated      1 2 3 4 5    1 to 3 are skipped, spool_number = 5

A copy of a data folder has a spool without a writer, though the session may still run elsewhere.  A session that was called
broken off because of it is open again with its next record; one that ended stays ended.

Columns have the names of the fields of records, of findings, passages and flight times those of their messages.

Takes: a connection in a transaction, records of one session.  Gives: rows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import singledispatchmethod
from typing import Any

import msgspec
from msgspec import structs
from sqlalchemy import Connection, Table, insert, select, update
from sqlalchemy.dialects import postgresql, sqlite

from bridge.session.session_events import CHANGE_KINDS, SessionEnded
from bridge.store import schema, spool_records
from bridge.store.spool_records import RecordBody, SpoolRecord, to_plain_data

_TABLES: Mapping[type[RecordBody], Table] = {
    spool_records.PhaseRecord: schema.phase,
    spool_records.NoticeRecord: schema.notice,
    spool_records.CallRecord: schema.call,
    spool_records.ChangeRecord: schema.remark,
    spool_records.RemarkRecord: schema.remark,
    spool_records.WaiverRecord: schema.waiver,
    spool_records.DataGapRecord: schema.data_gap,
}
"""The tables of records that are a row each: their fields have the names of the columns."""


def apply_records(connection: Connection, session: str, records: Sequence[SpoolRecord]) -> int:
    """Write records into the tables; records that are already there are skipped.

    Args:
        connection: A connection in a writing transaction.
        session: The session's id.
        records: Records in order.

    Returns:
        The number of new records.

    Raises:
        DBAPIError: The database refuses them; the transaction has no effect then.
    """
    last_applied = _last_applied(connection, session)
    new = [record for record in records if record.number > last_applied]
    rows = _RowWriter(connection, session)
    if new:
        rows.reopen()
    for record in new:
        rows.write(record)
    if new:
        rows.mark_applied(new[-1])
    return len(new)


def mark_broken_off(connection: Connection, session: str, last_number: int) -> None:
    """Mark a session whose program ended without closing it.

    Args:
        connection: A connection in a writing transaction.
        session: The session's id.
        last_number: The number of the last record of its spool.  Where the store has later ones, the spool is an old copy,
            and the session does not end with it.
    """
    row = schema.session.c
    unclosed = row.id == session, row.ending == "", row.spool_number <= last_number
    connection.execute(
        update(schema.session)
        .where(*unclosed)
        .values(ending=schema.BROKEN_OFF, ended_utc=schema.session.c.last_utc)
    )


def _last_applied(connection: Connection, session: str) -> int:
    """Return the number of the last record in the store; locks the row until the transaction ends."""
    row = select(schema.session.c.spool_number).where(schema.session.c.id == session).with_for_update()
    return connection.execute(row).scalar() or 0


class _RowWriter:
    """Writes the rows of one session in one transaction."""

    def __init__(self, connection: Connection, session: str) -> None:
        self._connection = connection
        self._session = session
        self._number = 0
        self._utc = 0.0

    def reopen(self) -> None:
        """Open a session again that was called broken off."""
        broken_off = schema.session.c.id == self._session, schema.session.c.ending == schema.BROKEN_OFF
        self._connection.execute(update(schema.session).where(*broken_off).values(ending="", ended_utc=None))

    def write(self, record: SpoolRecord) -> None:
        """Write one record."""
        self._number, self._utc = record.number, record.utc
        self._write_body(record.body)

    def mark_applied(self, last: SpoolRecord) -> None:
        """Set the number of the last record that is in the store."""
        self._update_session(spool_number=last.number, last_utc=last.utc)

    @singledispatchmethod
    def _write_body(self, body: RecordBody) -> None:
        """Write the body of a record: a row, unless a method of its own does more."""
        self._insert_body(body)

    @_write_body.register
    def _(self, record: spool_records.SessionStartRecord) -> None:
        head = record.head
        values = {
            "id": self._session,
            "device": head.device,
            "device_title": head.title,
            "name": head.name,
            "course": head.course,
            "began_utc": head.began_utc,
            "last_utc": self._utc,
            "program": head.program,
            "pack": head.pack.id,
            "pack_title": head.pack.title,
            "pack_version": head.pack.version,
            "pack_digest": head.pack.digest,
            "trip_title": head.trip.title,
            "trip": to_plain_data(head.trip.values),
            "inoperative": to_plain_data(head.trip.inoperative),
            "seats": record.seats,
            "recording": record.recording,
        }
        self._connection.execute(insert(schema.session).values(**_without_nul(values)))

    @_write_body.register
    def _(self, record: spool_records.FindingRecord) -> None:
        """Insert a finding, or update it; it belongs to the person who sat in its seat when it opened."""
        finding = record.finding
        values = {**to_plain_data(finding), "error_class": str(record.error_class)}
        if not self._update(schema.finding, finding.number, values):
            self._insert(schema.finding, utc=self._utc, person=self._person_in_seat(finding.seat), **values)

    @_write_body.register
    def _(self, record: spool_records.CallUndoneRecord) -> None:
        undone, table = record.call, schema.call
        condition = (
            table.c.session == self._session,
            table.c.call == undone.call,
            table.c.sim_s == undone.called_s,
        )
        self._connection.execute(update(table).where(*condition).values(undone_s=undone.sim_s))

    @_write_body.register
    def _(self, record: spool_records.GatePassageRecord) -> None:
        """Insert or update a gate passage; `cue_utc` is the time of its latest cue."""
        values = to_plain_data(record.passage)
        cued = {"cue_utc": self._utc} if record.passage.entered_s is None else {}
        if not self._update(schema.gate_passage, record.passage.number, {**values, **cued}):
            self._insert(schema.gate_passage, cue_utc=self._utc, **values)

    @_write_body.register
    def _(self, record: spool_records.TraceRecord) -> None:
        trace = record.trace
        self._insert(
            schema.trace,
            number=self._number,
            trace=trace.trace,
            title=trace.title,
            began_s=trace.began_s,
            ended_s=trace.ended_s,
            ending=str(trace.end),
            times=to_plain_data(trace.times_s),
            columns=to_plain_data(trace.columns),
            marks=to_plain_data(trace.marks),
            limits=to_plain_data(trace.limits),
            findings=to_plain_data(trace.findings),
        )

    @_write_body.register
    def _(self, record: spool_records.FlightTimeRecord) -> None:
        """Insert a flight time; a later one of the same moment and sector replaces it."""
        values = to_plain_data(record.time)
        del values["sim_s"]
        table = schema.flight_time
        condition = table.c.sector == record.time.sector, table.c.moment == str(record.time.moment)
        self._connection.execute(table.delete().where(table.c.session == self._session, *condition))
        self._insert(table, **values)

    @_write_body.register
    def _(self, record: spool_records.SeatRecord) -> None:
        """Insert a seating; the first person of a seat gets the earlier findings of the seat too."""
        person = self._person_id(record.person) if record.person is not None else None
        seat = schema.seating.c.session == self._session, schema.seating.c.seat == record.seat
        first = self._connection.execute(select(schema.seating.c.number).where(*seat)).first() is None
        if first and person is not None:
            rows = schema.finding.c.session == self._session, schema.finding.c.seat == record.seat
            self._connection.execute(update(schema.finding).where(*rows).values(person=person))
        self._insert_record_row(schema.seating, seat=record.seat, sim_s=record.sim_s, person=person)

    @_write_body.register
    def _(self, record: spool_records.TitleRecord) -> None:
        self._update_session(name=record.name, course=record.course)

    @_write_body.register
    def _(self, record: spool_records.ChangeRecord) -> None:
        self._insert_body(record)
        if record.change == CHANGE_KINDS[SessionEnded]:
            self._mark_ended()

    @_write_body.register
    def _(self, record: spool_records.WaiverUndoneRecord) -> None:
        undone, table = record.waiver, schema.waiver
        open_waiver = table.c.session == self._session, table.c.item == undone.item, table.c.to_s.is_(None)
        end = {"to_s": undone.sim_s, "undone_by": undone.by, "undone_reason": undone.reason}
        self._connection.execute(update(table).where(*open_waiver).values(**_without_nul(end)))

    @_write_body.register
    def _(self, _what: spool_records.SessionClosedRecord) -> None:
        self._mark_ended()

    def _insert_body(self, body: RecordBody) -> None:
        """Insert the fields of a body, or of the event that is its only field, into the columns of their names."""
        fields = structs.asdict(body)
        event = next(iter(fields.values()))
        row = structs.asdict(event) if isinstance(event, msgspec.Struct) else fields
        self._insert_record_row(_TABLES[type(body)], **to_plain_data(row))

    def _mark_ended(self) -> None:
        """Mark the session as ended, unless it already is."""
        unclosed = schema.session.c.id == self._session, schema.session.c.ending == ""
        ended = update(schema.session).where(*unclosed).values(ending=schema.ENDED, ended_utc=self._utc)
        self._connection.execute(ended)

    def _update_session(self, **values: object) -> None:
        row = schema.session.c.id == self._session
        self._connection.execute(update(schema.session).where(row).values(**_without_nul(values)))

    def _insert_record_row(self, table: Table, **values: object) -> None:
        """Insert a row with the number and time of the record."""
        self._insert(table, **{**values, "number": self._number, "utc": self._utc})

    def _insert(self, table: Table, **values: object) -> None:
        self._connection.execute(insert(table).values(session=self._session, **_without_nul(values)))

    def _update(self, table: Table, number: int, values: dict[str, object]) -> bool:
        """Update a row; return False if it does not exist."""
        row = table.c.session == self._session, table.c.number == number
        return bool(
            self._connection.execute(update(table).where(*row).values(**_without_nul(values))).rowcount
        )

    def _person_in_seat(self, seat: str) -> int | None:
        """Return the person who sits in a seat now."""
        table = schema.seating
        rows = select(table.c.person).where(table.c.session == self._session, table.c.seat == seat)
        return self._connection.execute(rows.order_by(table.c.number.desc()).limit(1)).scalar()

    def _person_id(self, pseudonym: str) -> int:
        """Return the id of a pseudonym; insert the person if it is new."""
        dialect = postgresql if self._connection.dialect.name == "postgresql" else sqlite
        name = _without_nul({"pseudonym": pseudonym})
        self._connection.execute(dialect.insert(schema.person).values(**name).on_conflict_do_nothing())
        row = select(schema.person.c.id).where(schema.person.c.pseudonym == name["pseudonym"])
        return int(self._connection.execute(row).scalar_one())


def _without_nul(values: dict[str, Any]) -> dict[str, Any]:
    """Replace NUL characters, which PostgreSQL cannot store."""
    return {name: _replace_nul(value) for name, value in values.items()}


def _replace_nul(value: Any) -> Any:  # noqa: ANN401 - any plain data
    match value:
        case str():
            return str(value).replace("\0", "\N{REPLACEMENT CHARACTER}")
        case dict():
            return {_replace_nul(key): _replace_nul(part) for key, part in value.items()}
        case list() | tuple():
            return [_replace_nul(part) for part in value]
    return value
