"""Everything that is kept of one person, as one document.

Who sat beside them is not named: where their pseudonym stands, `another person` does.

Takes: a pseudonym, a store.  Gives: plain data for JSON.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, Table, func, select

from bridge.people.names import Blot
from bridge.screen import SHORT_CAUTION
from bridge.store import schema
from rules.faults import Fault, InputFaults, Place
from rules.source import did_you_mean

ANOTHER = "another person"


def persons(connection: Connection) -> list[tuple[str, int, int]]:
    """Each pseudonym, in how many sessions they sat, and how many findings are theirs."""
    p = schema.person.c
    sat = select(func.count(func.distinct(schema.seating.c.session))).where(schema.seating.c.person == p.id)
    found = select(func.count()).select_from(schema.finding).where(schema.finding.c.person == p.id)
    rows = connection.execute(
        select(p.pseudonym, sat.scalar_subquery(), found.scalar_subquery()).order_by(p.pseudonym)
    )
    return [(name, int(sessions), int(findings)) for name, sessions, findings in rows]


def export(connection: Connection, pseudonym: str) -> dict[str, Any]:
    """What is kept of a person.

    Args:
        connection: to the store.
        pseudonym: who.

    Returns:
        `pseudonym`, `sessions` (each with its `seats`, `findings`, `notices`, `gates`, `calls`, `remarks`, `times` and the
        name of its `recording`), `caution`.

    Raises:
        InputFaults: nobody of that pseudonym is known.
    """
    person = connection.execute(
        select(schema.person.c.id).where(schema.person.c.pseudonym == pseudonym)
    ).scalar()
    if person is None:
        known = [name for name, _, _ in persons(connection)]
        hint = did_you_mean(pseudonym, known)
        raise InputFaults([Fault(Place(pseudonym), "nobody of that pseudonym is known", hint=hint)])
    others = [Blot(name) for name, _, _ in persons(connection) if name != pseudonym]
    seatings = schema.seating.c
    sat = (
        connection.execute(select(seatings.session).where(seatings.person == person).distinct())
        .scalars()
        .all()
    )
    return {
        "pseudonym": pseudonym,
        "sessions": [_session(connection, session, person, others) for session in sorted(sat)],
        "caution": SHORT_CAUTION,
    }


def _session(connection: Connection, session: str, person: int, others: Sequence[Blot]) -> dict[str, Any]:
    """One session, as far as it is theirs."""
    row = connection.execute(select(schema.session).where(schema.session.c.id == session)).one()
    seatings = _rows(connection, schema.seating, session)
    mine = {seat["seat"] for seat in seatings if seat["person"] == person}
    said = _rows(connection, schema.remark, session)
    found = {
        "id": row.id,
        "name": row.name,
        "course": row.course,
        "device": row.device_title or row.device,
        "pack": row.pack_title,
        "began_utc": row.began_utc,
        "ended_utc": row.ended_utc,
        "recording": row.recording,
        "seats": _spans(seatings, person),
        "findings": [_bare(f) for f in _rows(connection, schema.finding, session) if f["person"] == person],
        "notices": [n for n in _rows(connection, schema.notice, session) if n["seat"] in mine],
        "gates": _rows(connection, schema.passage, session),
        "calls": _rows(connection, schema.call, session),
        "remarks": said,
        "times": _rows(connection, schema.flight_time, session),
    }
    cleaned: dict[str, Any] = _cleaned(found, others)
    return cleaned


def _spans(seatings: Sequence[dict[str, Any]], person: int) -> list[dict[str, Any]]:
    """In which seat they sat, and from when to when; to the end where nobody came after."""
    spans = []
    for at, seat in enumerate(seatings):
        if seat["person"] == person:
            after = next((s["utc"] for s in seatings[at + 1 :] if s["seat"] == seat["seat"]), None)
            spans.append({"seat": seat["seat"], "from_utc": seat["utc"], "to_utc": after})
    return spans


def _rows(connection: Connection, table: Table, session: str) -> list[dict[str, Any]]:
    rows = select(table).where(table.c.session == session).order_by(*table.primary_key.columns)
    return [{k: v for k, v in row.items() if k != "session"} for row in connection.execute(rows).mappings()]


def _bare(row: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in row.items() if key != "person"}


def _cleaned(value: Any, others: Sequence[Blot]) -> Any:  # noqa: ANN401 - any plain data
    """Without the pseudonyms of others."""
    match value:
        case str():
            for other in others:
                value = other.text(value, ANOTHER)
            return value
        case dict():
            return {key: _cleaned(part, others) for key, part in value.items()}
        case list():
            return [_cleaned(part, others) for part in value]
    return value
