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

from bridge.notes import Change
from bridge.store import kept, schema
from bridge.store.kept import Line, What, plain


def apply(connection: Connection, session: str, lines: Sequence[Line]) -> int:
    """Put lines into the tables, those left out that are there already.

    Args:
        connection: in a transaction that writes.
        session: whose they are.
        lines: in their order.

    Returns:
        How many were new.

    Raises:
        DBAPIError: the database does not take them; then nothing of this transaction counts.
    """
    told = _told(connection, session)
    new = [line for line in lines if line.number > told]
    rows = _Rows(connection, session)
    for line in new:
        rows.put(line)
    if new:
        rows.told(new[-1])
    return len(new)


def broken_off(connection: Connection, session: str) -> None:
    """Nobody watches it any more, and it did not end in good order."""
    open_still = schema.session.c.id == session, schema.session.c.ending == ""
    connection.execute(
        update(schema.session)
        .where(*open_still)
        .values(ending="broken off", ended_utc=schema.session.c.last_utc)
    )


def _told(connection: Connection, session: str) -> int:
    """Up to which line it is in; nobody else puts any in until this transaction has ended."""
    row = select(schema.session.c.told).where(schema.session.c.id == session).with_for_update()
    return connection.execute(row).scalar() or 0


class _Rows:
    """The rows of one session in one transaction."""

    def __init__(self, connection: Connection, session: str) -> None:
        self._connection = connection
        self._session = session
        self._number = 0
        self._utc = 0.0

    def put(self, line: Line) -> None:
        """Put in what a line says."""
        self._number, self._utc = line.number, line.utc
        self._put(line.what)

    def told(self, last: Line) -> None:
        """All up to this line is in."""
        self._retitle(told=last.number, last_utc=last.utc)

    @singledispatchmethod
    def _put(self, what: What) -> None:
        """One method for each kind of line."""
        raise TypeError(type(what))

    @_put.register
    def _(self, what: kept.Begun) -> None:
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
            "papers_title": head.trip.title,
            "papers": plain(head.trip.values),
            "inoperative": plain(head.trip.inoperative),
            "seats": what.seats,
            "recording": what.recording,
        }
        self._connection.execute(insert(schema.session).values(**_storable(values)))

    @_put.register
    def _(self, what: kept.Phased) -> None:
        self._line(schema.phase, sim_s=what.sim_s, phase=what.phase, title=what.title, code=what.code)

    @_put.register
    def _(self, what: kept.Found) -> None:
        """A finding opens, or is other than before; it belongs to who sat in its seat when it opened."""
        found = what.finding
        values = {**plain(found), "error_class": str(what.error_class)}
        if not self._change(schema.finding, found.number, values):
            self._add(schema.finding, utc=self._utc, person=self._sitting(found.seat), **values)

    @_put.register
    def _(self, what: kept.Noticed) -> None:
        self._line(schema.notice, **plain(what.notice))

    @_put.register
    def _(self, what: kept.Called) -> None:
        self._line(schema.call, sim_s=what.sim_s, call=what.call, title=what.title, by=what.by)

    @_put.register
    def _(self, what: kept.TakenBack) -> None:
        back, table = what.call, schema.call
        which = table.c.session == self._session, table.c.call == back.call, table.c.sim_s == back.called_s
        self._connection.execute(update(table).where(*which).values(retracted_s=back.sim_s))

    @_put.register
    def _(self, what: kept.Passed) -> None:
        """A gate is cued, cued again or entered; `cue_utc` is that of its cue."""
        values = plain(what.passage)
        cued = {"cue_utc": self._utc} if what.passage.entered_s is None else {}
        if not self._change(schema.passage, what.passage.number, {**values, **cued}):
            self._add(schema.passage, cue_utc=self._utc, **values)

    @_put.register
    def _(self, what: kept.Stripped) -> None:
        strip = what.strip
        self._add(
            schema.strip,
            number=self._number,
            strip=strip.strip,
            title=strip.title,
            began_s=strip.began_s,
            ended_s=strip.ended_s,
            ending=str(strip.end),
            times=plain(strip.times_s),
            columns=plain(strip.columns),
            marks=plain(strip.marks),
            limits=plain(strip.limits),
            findings=plain(strip.findings),
        )

    @_put.register
    def _(self, what: kept.Timed) -> None:
        """A moment of a sector; a later one of the same replaces it."""
        values = plain(what.time)
        del values["sim_s"]
        table = schema.flight_time
        which = table.c.sector == what.time.sector, table.c.moment == str(what.time.moment)
        self._connection.execute(table.delete().where(table.c.session == self._session, *which))
        self._add(table, **values)

    @_put.register
    def _(self, what: kept.Seated) -> None:
        """Somebody sits down; who is named first in a seat has sat there from the beginning."""
        person = self._person(what.person) if what.person else None
        seat = schema.seating.c.session == self._session, schema.seating.c.seat == what.seat
        first = self._connection.execute(select(schema.seating.c.number).where(*seat)).first() is None
        if first and person is not None:
            rows = schema.finding.c.session == self._session, schema.finding.c.seat == what.seat
            self._connection.execute(update(schema.finding).where(*rows).values(person=person))
        self._line(schema.seating, seat=what.seat, sim_s=what.sim_s, person=person)

    @_put.register
    def _(self, what: kept.Titled) -> None:
        self._retitle(name=what.name, course=what.course)

    @_put.register
    def _(self, what: kept.Noted) -> None:
        note = what.note
        self._line(schema.remark, sim_s=note.sim_s, change=str(note.change), text=note.text, by=note.by)
        if note.change is Change.ENDED:
            self._close()

    @_put.register
    def _(self, what: kept.Written) -> None:
        remark = what.remark
        self._line(schema.remark, sim_s=remark.sim_s, text=remark.text, by=remark.by)

    @_put.register
    def _(self, _what: kept.Closed) -> None:
        self._close()

    def _close(self) -> None:
        """It ended in good order, the first time that this is said."""
        runs = schema.session.c.id == self._session, schema.session.c.ending == ""
        ended = update(schema.session).where(*runs).values(ending="ended", ended_utc=self._utc)
        self._connection.execute(ended)

    def _retitle(self, **values: object) -> None:
        row = schema.session.c.id == self._session
        self._connection.execute(update(schema.session).where(row).values(**_storable(values)))

    def _line(self, table: Table, **values: object) -> None:
        """A row that has the line's number and time."""
        self._add(table, number=self._number, utc=self._utc, **values)

    def _add(self, table: Table, **values: object) -> None:
        self._connection.execute(insert(table).values(session=self._session, **_storable(values)))

    def _change(self, table: Table, number: int, values: dict[str, object]) -> bool:
        """Change a row; whether there is one."""
        row = table.c.session == self._session, table.c.number == number
        return bool(self._connection.execute(update(table).where(*row).values(**_storable(values))).rowcount)

    def _sitting(self, seat: str) -> int | None:
        """Who sits in a seat now."""
        table = schema.seating
        rows = select(table.c.person).where(table.c.session == self._session, table.c.seat == seat)
        return self._connection.execute(rows.order_by(table.c.number.desc()).limit(1)).scalar()

    def _person(self, pseudonym: str) -> int:
        """The person of a pseudonym, who is made known where that is new."""
        dialect = postgresql if self._connection.dialect.name == "postgresql" else sqlite
        name = _storable({"pseudonym": pseudonym})
        self._connection.execute(dialect.insert(schema.person).values(**name).on_conflict_do_nothing())
        row = select(schema.person.c.id).where(schema.person.c.pseudonym == name["pseudonym"])
        return int(self._connection.execute(row).scalar_one())


def _storable(values: dict[str, Any]) -> dict[str, Any]:
    """Without the one character that PostgreSQL has no place for."""
    return {name: _text(value) for name, value in values.items()}


def _text(value: Any) -> Any:  # noqa: ANN401 - any plain data
    match value:
        case str():
            return str(value).replace("\0", "\N{REPLACEMENT CHARACTER}")
        case dict():
            return {_text(key): _text(part) for key, part in value.items()}
        case list() | tuple():
            return [_text(part) for part in value]
    return value
