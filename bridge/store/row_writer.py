"""Puts lines of a spool into the tables, each exactly once.

The row of a session says up to which line it is in; that number is written in the same transaction as what the lines say, so
that a transaction that was lost, or whose end was not heard of, can be tried again.

The columns of a finding, a notice, a passage and a time bear the names that these have outside.

Takes: a connection in a transaction, lines of one session.  Gives: rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import singledispatchmethod
from typing import Any

from sqlalchemy import Connection, Table, insert, select, update
from sqlalchemy.dialects import postgresql, sqlite

from bridge.session.session_events import SessionChangeKind
from bridge.store import schema, spool_records
from bridge.store.spool_records import RecordBody, SpoolRecord, to_plain_data


def apply_records(connection: Connection, session: str, records: Sequence[SpoolRecord]) -> int:
    """Put lines into the tables, those left out that are there already.

    Args:
        connection: in a transaction that writes.
        session: whose they are.
        records: in their order.

    Returns:
        How many were new.

    Raises:
        DBAPIError: the database does not take them; then nothing of this transaction counts.
    """
    told = _last_applied(connection, session)
    new = [line for line in records if line.number > told]
    rows = _RowWriter(connection, session)
    for line in new:
        rows.write(line)
    if new:
        rows.mark_applied(new[-1])
    return len(new)


def mark_broken_off(connection: Connection, session: str) -> None:
    """Nobody watches it any more, and it did not end in good order."""
    open_still = schema.session.c.id == session, schema.session.c.ending == ""
    connection.execute(
        update(schema.session)
        .where(*open_still)
        .values(ending="broken off", ended_utc=schema.session.c.last_utc)
    )


def _last_applied(connection: Connection, session: str) -> int:
    """Up to which line it is in; nobody else puts any in until this transaction has ended."""
    row = select(schema.session.c.spool_number).where(schema.session.c.id == session).with_for_update()
    return connection.execute(row).scalar() or 0


class _RowWriter:
    """The rows of one session in one transaction."""

    def __init__(self, connection: Connection, session: str) -> None:
        self._connection = connection
        self._session = session
        self._number = 0
        self._utc = 0.0

    def write(self, record: SpoolRecord) -> None:
        """Put in what a line says."""
        self._number, self._utc = record.number, record.utc
        self._write_body(record.body)

    def mark_applied(self, last: SpoolRecord) -> None:
        """All up to this line is in."""
        self._update_session(spool_number=last.number, last_utc=last.utc)

    @singledispatchmethod
    def _write_body(self, body: RecordBody) -> None:
        """One method for each kind of line."""
        raise TypeError(type(body))

    @_write_body.register
    def _(self, what: spool_records.SessionBegunRecord) -> None:
        head = what.head
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
            "seats": what.seats,
            "recording": what.recording,
        }
        self._connection.execute(insert(schema.session).values(**_without_nul(values)))

    @_write_body.register
    def _(self, what: spool_records.PhaseRecord) -> None:
        self._insert_record_row(
            schema.phase, sim_s=what.sim_s, phase=what.phase, title=what.title, code=what.code
        )

    @_write_body.register
    def _(self, what: spool_records.FindingRecord) -> None:
        """A finding opens, or is other than before; it belongs to who sat in its seat when it opened."""
        found = what.finding
        values = {**to_plain_data(found), "error_class": str(what.error_class)}
        if not self._update(schema.finding, found.number, values):
            self._insert(schema.finding, utc=self._utc, person=self._person_in_seat(found.seat), **values)

    @_write_body.register
    def _(self, what: spool_records.NoticeRecord) -> None:
        self._insert_record_row(schema.notice, **to_plain_data(what.notice))

    @_write_body.register
    def _(self, what: spool_records.CallRecord) -> None:
        self._insert_record_row(schema.call, sim_s=what.sim_s, call=what.call, title=what.title, by=what.by)

    @_write_body.register
    def _(self, what: spool_records.CallUndoneRecord) -> None:
        back, table = what.call, schema.call
        which = table.c.session == self._session, table.c.call == back.call, table.c.sim_s == back.called_s
        self._connection.execute(update(table).where(*which).values(undone_s=back.sim_s))

    @_write_body.register
    def _(self, what: spool_records.GatePassageRecord) -> None:
        """A gate is cued, cued again or entered; `cue_utc` is that of its cue."""
        values = to_plain_data(what.passage)
        cued = {"cue_utc": self._utc} if what.passage.entered_s is None else {}
        if not self._update(schema.gate_passage, what.passage.number, {**values, **cued}):
            self._insert(schema.gate_passage, cue_utc=self._utc, **values)

    @_write_body.register
    def _(self, what: spool_records.TraceRecord) -> None:
        strip = what.trace
        self._insert(
            schema.trace,
            number=self._number,
            trace=strip.trace,
            title=strip.title,
            began_s=strip.began_s,
            ended_s=strip.ended_s,
            ending=str(strip.end),
            times=to_plain_data(strip.times_s),
            columns=to_plain_data(strip.columns),
            marks=to_plain_data(strip.marks),
            limits=to_plain_data(strip.limits),
            findings=to_plain_data(strip.findings),
        )

    @_write_body.register
    def _(self, what: spool_records.FlightTimeRecord) -> None:
        """A moment of a sector; a later one of the same replaces it."""
        values = to_plain_data(what.time)
        del values["sim_s"]
        table = schema.flight_time
        which = table.c.sector == what.time.sector, table.c.moment == str(what.time.moment)
        self._connection.execute(table.delete().where(table.c.session == self._session, *which))
        self._insert(table, **values)

    @_write_body.register
    def _(self, what: spool_records.SeatRecord) -> None:
        """Somebody sits down; who is named first in a seat has sat there from the beginning."""
        person = self._person_id(what.person) if what.person else None
        seat = schema.seating.c.session == self._session, schema.seating.c.seat == what.seat
        first = self._connection.execute(select(schema.seating.c.number).where(*seat)).first() is None
        if first and person is not None:
            rows = schema.finding.c.session == self._session, schema.finding.c.seat == what.seat
            self._connection.execute(update(schema.finding).where(*rows).values(person=person))
        self._insert_record_row(schema.seating, seat=what.seat, sim_s=what.sim_s, person=person)

    @_write_body.register
    def _(self, what: spool_records.TitleRecord) -> None:
        self._update_session(name=what.name, course=what.course)

    @_write_body.register
    def _(self, what: spool_records.SessionEventRecord) -> None:
        note = what.event
        self._insert_record_row(
            schema.remark, sim_s=note.sim_s, change=str(note.change), text=note.text, by=note.by
        )
        if note.change is SessionChangeKind.ENDED:
            self._mark_ended()

    @_write_body.register
    def _(self, what: spool_records.RemarkRecord) -> None:
        remark = what.remark
        self._insert_record_row(schema.remark, sim_s=remark.sim_s, text=remark.text, by=remark.by)

    @_write_body.register
    def _(self, _what: spool_records.SessionClosedRecord) -> None:
        self._mark_ended()

    def _mark_ended(self) -> None:
        """It ended in good order, the first time that this is said."""
        runs = schema.session.c.id == self._session, schema.session.c.ending == ""
        ended = update(schema.session).where(*runs).values(ending="ended", ended_utc=self._utc)
        self._connection.execute(ended)

    def _update_session(self, **values: object) -> None:
        row = schema.session.c.id == self._session
        self._connection.execute(update(schema.session).where(row).values(**_without_nul(values)))

    def _insert_record_row(self, table: Table, **values: object) -> None:
        """A row that has the line's number and time."""
        self._insert(table, number=self._number, utc=self._utc, **values)

    def _insert(self, table: Table, **values: object) -> None:
        self._connection.execute(insert(table).values(session=self._session, **_without_nul(values)))

    def _update(self, table: Table, number: int, values: dict[str, object]) -> bool:
        """Change a row; whether there is one."""
        row = table.c.session == self._session, table.c.number == number
        return bool(
            self._connection.execute(update(table).where(*row).values(**_without_nul(values))).rowcount
        )

    def _person_in_seat(self, seat: str) -> int | None:
        """Who sits in a seat now."""
        table = schema.seating
        rows = select(table.c.person).where(table.c.session == self._session, table.c.seat == seat)
        return self._connection.execute(rows.order_by(table.c.number.desc()).limit(1)).scalar()

    def _person_id(self, pseudonym: str) -> int:
        """The person of a pseudonym, who is made known where that is new."""
        dialect = postgresql if self._connection.dialect.name == "postgresql" else sqlite
        name = _without_nul({"pseudonym": pseudonym})
        self._connection.execute(dialect.insert(schema.person).values(**name).on_conflict_do_nothing())
        row = select(schema.person.c.id).where(schema.person.c.pseudonym == name["pseudonym"])
        return int(self._connection.execute(row).scalar_one())


def _without_nul(values: dict[str, Any]) -> dict[str, Any]:
    """Without the one character that PostgreSQL has no place for."""
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
