"""Exports the data of one person as one document.

Other persons are not named: their pseudonyms are replaced by `another person`.

Takes: a pseudonym, a store.  Gives: plain data for JSON.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Table, func, not_, select

from bridge.common.disclaimer import SHORT_DISCLAIMER
from bridge.privacy.pseudonyms import Redactor, parse_pseudonym
from bridge.session.threat_error import ErrorClass
from bridge.store import schema
from rules.faults import InputFaults, Place
from rules.source import unknown_fault

OTHER_PERSON = "another person"
FORMAT_VERSION = 1
"""Raised when a field of the document is removed or changes its meaning."""
Fields = dict[str, Any]
EXPORT_FIELDS: Mapping[str, str] = {
    "format_version": "1; raised when a field is removed or changes its meaning.",
    "pseudonym": "The pseudonym, as the store has it.",
    "disclaimer": "A statement that this is for simulation only.",
    "sessions": "The sessions in which the person sat, requested something or is named, by their start.",
    "sessions[].id": "The id of the session.",
    "sessions[].name": "Its name.",
    "sessions[].course": "Its course.",
    "sessions[].device": "Its device.",
    "sessions[].pack": "The title of its pack.",
    "sessions[].began_utc": "Its start, seconds since 1970.",
    "sessions[].ended_utc": "Its end, null while it runs.",
    "sessions[].recording": "The name of its recording.",
    "sessions[].seats": (
        "The person's seats: `seat`, `title`, `from_utc`, `to_utc` (the end of the session if nobody followed)."
    ),
    "sessions[].findings": "The findings on the person.",
    "sessions[].notices": "The notices to the seat while the person sat in it.",
    "sessions[].gates": "The gates (table `gate_passage`), which concern both seats.",
    "sessions[].times": "The times of the flight, which concern both seats.",
    "sessions[].gaps": "The times for which data were missing (table `data_gap`), which concern both seats.",
    "sessions[].waivers": (
        "Waivers by the person or undone by them, waivers that name them, and those of an instructor or the trip sheet while the "
        "person sat there."
    ),
    "sessions[].calls": "Calls by the person: `by` is the pseudonym, or the seat while the person sat in it.",
    "sessions[].remarks": (
        "Remarks by the person, remarks that name the person, and an instructor's while the person sat there."
    ),
}
"""The content of each field, for the documents; `sessions[].` stands before the fields of a session."""


def count_by_person(connection: Connection) -> list[tuple[str, int, int, int]]:
    """List each pseudonym with its number of sessions, of errors, and of findings that are not verifiable."""
    p, f = schema.person.c, schema.finding.c
    sat = select(func.count(func.distinct(schema.seating.c.session))).where(schema.seating.c.person == p.id)
    found = select(func.count()).select_from(schema.finding).where(f.person == p.id)
    doubt = f.error_class == str(ErrorClass.NOT_VERIFIABLE)
    counts = [each.scalar_subquery() for each in (sat, found.where(not_(doubt)), found.where(doubt))]
    rows = connection.execute(select(p.pseudonym, *counts).order_by(p.pseudonym))
    return [(name, int(sessions), int(errors), int(doubts)) for name, sessions, errors, doubts in rows]


def export_person_data(connection: Connection, pseudonym: str) -> Fields:
    """Collect the data of a person.

    Args:
        connection: A connection to the store.
        pseudonym: The pseudonym; upper and lower case are the same.

    Returns:
        The fields of `EXPORT_FIELDS`.

    Raises:
        InputFaults: The pseudonym is unknown.
    """
    name = parse_pseudonym(pseudonym)
    known = [(row.id, row.pseudonym) for row in connection.execute(select(schema.person))]
    redactor = Redactor(name, excluded=[other for _, other in known])
    person = {id_: other for id_, other in known if redactor.matches(other)}
    others = [other for _, other in known if not redactor.matches(other)]
    sessions = _session_ids(connection, set(person), redactor)
    if not person and not sessions:
        expected = "one of `holdshort person list`"
        raise InputFaults([unknown_fault(Place("pseudonym"), "pseudonym", name, others, expected)])
    others_redactor = Redactor(*others, excluded=[name]) if others else None
    exported = [
        _SessionExport(connection, session, set(person), redactor, others_redactor).fields()
        for session in sessions
    ]
    return {
        "format_version": FORMAT_VERSION,
        "pseudonym": next(iter(person.values()), name),
        "sessions": _redacted(exported, others_redactor) if others_redactor else exported,
        "disclaimer": SHORT_DISCLAIMER,
    }


def _session_ids(connection: Connection, person_ids: set[int], redactor: Redactor) -> list[str]:
    """List the sessions in which the person sat, requested something or is named, by their start."""
    sat = schema.seating.c
    of_person = set(connection.execute(select(sat.session).where(sat.person.in_(person_ids))).scalars())
    waiver = schema.waiver.c
    of_waivers = waiver.by, waiver.reason, waiver.undone_by, waiver.undone_reason
    for column in (schema.call.c.by, schema.remark.c.by, schema.remark.c.text, *of_waivers):
        rows = connection.execute(select(column.table.c.session, column).where(column != "").distinct())
        of_person |= {session for session, text in rows if redactor.occurs_in(text)}
    row = schema.session.c
    ordered = connection.execute(select(row.id).order_by(row.began_utc, row.id)).scalars()
    return [session for session in ordered if session in of_person]


class _SessionExport:
    """The part of one session that concerns the person."""

    def __init__(
        self,
        connection: Connection,
        session: str,
        person_ids: set[int],
        redactor: Redactor,
        others: Redactor | None,
    ) -> None:
        self._connection, self._session, self._person_ids = connection, session, person_ids
        self._redactor, self._others = redactor, others
        self._row = connection.execute(select(schema.session).where(schema.session.c.id == session)).one()
        self._spans = list(self._find_seat_spans())

    def fields(self) -> Fields:
        """Return the fields of the session in the document."""
        row, rows = self._row, self._rows
        return {
            "id": row.id,
            "name": row.name,
            "course": row.course,
            "device": row.device_title or row.device,
            "pack": row.pack_title,
            "began_utc": row.began_utc,
            "ended_utc": row.ended_utc,
            "recording": row.recording,
            "seats": [_without(span, "from_number", "to_number") for span in self._spans],
            "findings": [
                _without(f, "person") for f in rows(schema.finding) if f["person"] in self._person_ids
            ],
            "notices": rows(schema.notice, lambda notice: self._occupied(notice["seat"], notice["number"])),
            "gates": rows(schema.gate_passage) if self._spans else [],
            "waivers": rows(schema.waiver, self._concerns_waiver),
            "calls": rows(schema.call, self._is_requester),
            "remarks": rows(schema.remark, self._concerns_remark),
            "times": rows(schema.flight_time) if self._spans else [],
            "gaps": rows(schema.data_gap) if self._spans else [],
        }

    def _rows(self, table: Table, of_person: Callable[[Fields], bool] = lambda _: True) -> list[Fields]:
        exported = select(table).where(table.c.session == self._session).order_by(*table.primary_key.columns)
        rows = self._connection.execute(exported).mappings()
        return [_without(dict(row), "session") for row in rows if of_person(dict(row))]

    def _find_seat_spans(self) -> Sequence[Fields]:
        """Return the person's seats, each with its start and end.

        The first person of a seat has sat there from the start of the session.  Spans are compared by `number`, the true
        order, because clocks may jump:

            seating        4 captain Heron     9 captain Plover    14 captain (empty)
            Heron          0 to 9              Plover 9 to 14
        """
        spans, seats = [], self._rows(schema.seating)
        for at, seat in enumerate(seats):
            if seat["person"] not in self._person_ids:
                continue
            first = all(before["seat"] != seat["seat"] for before in seats[:at])
            after = next((later for later in seats[at + 1 :] if later["seat"] == seat["seat"]), None)
            spans.append({
                "seat": seat["seat"],
                "title": self._row.seats.get(seat["seat"], seat["seat"]),
                "from_utc": self._row.began_utc if first else seat["utc"],
                "to_utc": after["utc"] if after else self._row.ended_utc,
                "from_number": 0 if first else seat["number"],
                "to_number": after["number"] if after else None,
            })  # fmt: skip
        return spans

    def _occupied(self, seat: str, number: int) -> bool:
        """Return True if the person sat in the seat at this number."""
        return any(
            span["seat"] == seat
            and span["from_number"] <= number
            and (span["to_number"] is None or number < span["to_number"])
            for span in self._spans
        )

    def _is_requester(self, row: Fields) -> bool:
        return self._redactor.occurs_in(row["by"]) or self._occupied(row["by"], row["number"])

    def _concerns_remark(self, row: Fields) -> bool:
        """Return True for remarks by the person, remarks that name them, and an instructor's while they sat there."""
        if self._is_requester(row) or self._redactor.occurs_in(row["text"]):
            return True
        return not row["change"] and self._there_of_nobody_else(row)

    def _concerns_waiver(self, row: Fields) -> bool:
        """Return True for waivers by the person, waivers that name them, and an instructor's while they sat there."""
        texts = row["reason"], row["undone_by"], row["undone_reason"]
        named = any(map(self._redactor.occurs_in, texts))
        undone = self._occupied(row["undone_by"], row["number"])
        return named or undone or self._is_requester(row) or self._there_of_nobody_else(row)

    def _there_of_nobody_else(self, row: Fields) -> bool:
        """Return True if the person sat in a seat then, and no other person, or seat, made the request."""
        others = row["by"] in self._row.seats or (
            self._others is not None and self._others.matches(row["by"])
        )
        return not others and any(self._occupied(seat, row["number"]) for seat in self._row.seats)


def _without(row: Fields, *names: str) -> Fields:
    return {key: value for key, value in row.items() if key not in names}


def _redacted(value: Any, others: Redactor) -> Any:  # noqa: ANN401 - any plain data
    """Replace the pseudonyms of others."""
    match value:
        case str():
            return others.redact(value, OTHER_PERSON)
        case dict():
            return {key: _redacted(part, others) for key, part in value.items()}
        case list():
            return [_redacted(part, others) for part in value]
    return value
