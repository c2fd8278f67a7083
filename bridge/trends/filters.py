"""Defines the filter of trends and its conditions in the store.

Takes: filter values.  Gives: `TrendFilter`, and SQL conditions on sessions and findings.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Connection, Table, and_, exists, or_, select, true

from bridge.session.threat_error import ErrorClass
from bridge.store import schema
from rules.faults import Fault, InputFaults, Place
from rules.source import did_you_mean

FINISHED_ENDINGS = (schema.ENDED, schema.BROKEN_OFF)
"""Endings of sessions that count; a running session does not."""


@dataclass(frozen=True, slots=True)
class TrendFilter:
    """Filter values; '' for all.  `since` and `until` are days (ISO 8601) in UTC, both included."""

    course: str = ""
    pack: str = ""
    device: str = ""
    seat: str = ""
    gate: str = ""
    error_class: str = ""
    level: str = ""
    person: str = ""
    since: str = ""
    until: str = ""

    @property
    def active(self) -> dict[str, str]:
        """The filters that are set."""
        every = {
            "course": self.course, "pack": self.pack, "device": self.device, "seat": self.seat, "gate": self.gate,
            "error_class": self.error_class, "level": self.level, "person": self.person,
            "since": self.since, "until": self.until,
        }  # fmt: skip
        return {name: value for name, value in every.items() if value}


def session_condition(trend_filter: TrendFilter) -> ColumnElement[bool]:
    """Return the condition on a session: it is over, data was received, and with a gate it had a chance to be found there.

    Raises:
        InputFaults: A day is wrong.
    """
    table = schema.session.c
    conditions: list[ColumnElement[bool]] = [table.ending.in_(FINISHED_ENDINGS), _has_data()]
    if trend_filter.gate:
        conditions.append(_has_any(schema.gate_passage, schema.finding, gate=trend_filter.gate))
    conditions += [
        table[name] == value
        for name, value in trend_filter.active.items()
        if name in ("course", "pack", "device")
    ]
    if trend_filter.person:
        conditions.append(table.id.in_(select(schema.seating.c.session).where(_seats_person(trend_filter))))
    if trend_filter.since:
        conditions.append(table.began_utc >= _midnight("since", trend_filter.since).timestamp())
    if trend_filter.until:
        conditions.append(
            table.began_utc < (_midnight("until", trend_filter.until) + timedelta(days=1)).timestamp()
        )
    return and_(*conditions)


def _has_data() -> ColumnElement[bool]:
    """Return the condition that something was judged: the first frame begins a phase."""
    return _has_any(schema.phase, schema.gate_passage, schema.finding)


def _has_any(*tables: Table, **values: str) -> ColumnElement[bool]:
    """Return the condition that a session has a row with these values in one of the tables."""
    # Aliases: the query around it may select from the same tables.
    rows = [table.alias() for table in tables]
    return or_(
        *(
            exists().where(
                row.c.session == schema.session.c.id,
                *(row.c[name] == value for name, value in values.items()),
            )
            for row in rows
        )
    )


def _seats_person(trend_filter: TrendFilter) -> ColumnElement[bool]:
    """Return the condition that the person has a seating."""
    person = (
        select(schema.person.c.id).where(schema.person.c.pseudonym == trend_filter.person).scalar_subquery()
    )
    return schema.seating.c.person == person


def finding_condition(trend_filter: TrendFilter) -> ColumnElement[bool]:
    """Return the condition on a finding."""
    table = schema.finding.c
    conditions: list[ColumnElement[bool]] = [
        table[name] == value
        for name, value in trend_filter.active.items()
        if name in ("seat", "gate", "error_class", "level")
    ]
    if trend_filter.person:
        person = select(schema.person.c.id).where(schema.person.c.pseudonym == trend_filter.person)
        conditions.append(table.person == person.scalar_subquery())
    return and_(true(), *conditions)


def error_condition(trend_filter: TrendFilter) -> ColumnElement[bool]:
    """Return the condition on a finding that is an error of a seat.

    What is not verifiable is a doubt, and a threat is an event of the aeroplane: they count only where they are asked for.
    """
    condition = finding_condition(trend_filter)
    if trend_filter.error_class:
        return condition
    no_errors = [str(ErrorClass.NOT_VERIFIABLE), str(ErrorClass.THREAT)]
    return and_(condition, schema.finding.c.error_class.not_in(no_errors))


def check_filter(trend_filter: TrendFilter, connection: Connection) -> None:
    """Check that every filter value is in the store.

    Raises:
        InputFaults: Each value that is not, with the known ones.
    """
    faults = []
    for name, known in available_values(connection).items():
        value = trend_filter.active.get(name, "")
        if value and value not in known:
            hint = did_you_mean(value, known)
            faults.append(
                Fault(
                    Place(_option_name(name)),
                    f"nothing in the store has {name} {value}",
                    _expected(name, known),
                    hint,
                )
            )
    for name in ("since", "until"):
        try:
            _midnight(name, trend_filter.active.get(name) or "2026-01-01")
        except InputFaults as error:
            faults += error.faults
    if faults:
        raise InputFaults(faults)


def available_values(connection: Connection) -> dict[str, list[str]]:
    """Return the values of each filter that are in the store."""
    session, finding = schema.session.c, schema.finding.c
    columns: dict[str, Any] = {
        "course": session.course, "pack": session.pack, "device": session.device,
        "seat": finding.seat, "gate": schema.gate_passage.c.gate, "error_class": finding.error_class, "level": finding.level, "person": schema.person.c.pseudonym,
    }  # fmt: skip
    return {
        name: [str(v) for v in connection.execute(select(column).distinct().order_by(column)).scalars() if v]
        for name, column in columns.items()
    }


def _midnight(name: str, day: str) -> datetime:
    try:
        found = date.fromisoformat(day)
    except ValueError:
        place = Place(_option_name(name))
        raise InputFaults([Fault(place, f"{day} is not a date", "a date such as 2026-11-25")]) from None
    return datetime(found.year, found.month, found.day, tzinfo=UTC)


def _option_name(name: str) -> str:
    return {"error_class": "--class", "since": "--from", "until": "--to"}.get(name, f"--{name}")


def _expected(name: str, known: list[str]) -> str:
    return f"one of {', '.join(known)}" if known else f"no {_option_name(name)}, since the store has none yet"
