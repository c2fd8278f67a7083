"""What is missed most, by item, gate and class of error; how early gates are ready; how it goes from month to month.

Chances are sessions: an item that a gate needs has one in each session, judged by the same pack, in which that gate was passed; a
watch, which has no gate, has one in each.  An item counts once in a session, however often it was found there.

Takes: a store and a choice.  Gives: `Trends`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any

import msgspec
from sqlalchemy import Connection, Integer, and_, case, cast, distinct, func, select

from bridge.store import schema
from bridge.trends.filters import TrendFilter, check_filter, finding_condition, session_condition
from bridge.trends.intervals import Share, Spread, share_of, spread_of

MIN_SESSIONS = 5
"""Fewer sessions than these say more of who flew them than of anything else: nothing is shown of them."""


class MissedItem(msgspec.Struct, frozen=True):
    """An item, in how many sessions of those that could have it was found wrong, and in how many of these it was carried."""

    pack: str = msgspec.field(name="pack")
    item: str = msgspec.field(name="item")
    label: str = msgspec.field(name="label")
    gate: str = msgspec.field(name="gate")
    gate_title: str = msgspec.field(name="gate_title")
    seat: str = msgspec.field(name="seat")
    share: Share = msgspec.field(name="share")
    carried: int = msgspec.field(name="carried")


class GateTrend(msgspec.Struct, frozen=True):
    """A gate: how many passages had something open at the cue, how many were not ready when entered, and how early the others were."""

    pack: str = msgspec.field(name="pack")
    gate: str = msgspec.field(name="gate")
    title: str = msgspec.field(name="title")
    open_at_cue: Share = msgspec.field(name="open_at_cue")
    not_ready: Share = msgspec.field(name="not_ready")
    spare_s: Spread | None = msgspec.field(name="spare_s")


class ClassTrend(msgspec.Struct, frozen=True):
    """A class of error: in how many sessions it occurred, how many findings, how many of them were carried."""

    error_class: str = msgspec.field(name="error_class")
    sessions: Share = msgspec.field(name="sessions")
    findings: int = msgspec.field(name="findings")
    carried: Share = msgspec.field(name="carried")


class MonthTrend(msgspec.Struct, frozen=True):
    """One month: the sessions, and in how many of them something was carried past a gate."""

    month: str = msgspec.field(name="month")
    sessions: int = msgspec.field(name="sessions")
    findings: int = msgspec.field(name="findings")
    carried: Share = msgspec.field(name="carried")


class Trends(msgspec.Struct, frozen=True):
    """All of it; `withheld` says why nothing is shown, '' where something is; `rare` counts items and gates of too few sessions."""

    sessions: int = msgspec.field(name="sessions")
    findings: int = msgspec.field(name="findings")
    withheld: str = msgspec.field(default="", name="withheld")
    missed: tuple[MissedItem, ...] = msgspec.field(default=(), name="missed")
    gates: tuple[GateTrend, ...] = msgspec.field(default=(), name="gates")
    classes: tuple[ClassTrend, ...] = msgspec.field(default=(), name="classes")
    months: tuple[MonthTrend, ...] = msgspec.field(default=(), name="months")
    rare: int = msgspec.field(default=0, name="rare")

    @property
    def packs(self) -> frozenset[str]:
        """The packs by which the sessions were judged."""
        return frozenset([one.pack for one in self.missed] + [gate.pack for gate in self.gates])


def calculate_trends(connection: Connection, trend_filter: TrendFilter) -> Trends:
    """Reckon the trends.

    Args:
        connection: to the store.
        trend_filter: which sessions and findings.

    Raises:
        InputFaults: a filter names nothing that is in the store.
    """
    check_filter(trend_filter, connection)
    sessions, findings = _count_matching(connection, trend_filter)
    withheld = _withheld(sessions)
    if withheld:
        return Trends(sessions, 0, withheld)
    missed, gates = _missed_items(connection, trend_filter), _gate_trends(connection, trend_filter)
    shown = tuple(one for one in missed if one.share.of >= MIN_SESSIONS)
    passed = tuple(one for one in gates if one.not_ready.of >= MIN_SESSIONS)
    return Trends(
        sessions,
        findings,
        "",
        shown,
        passed,
        _class_trends(connection, trend_filter, sessions),
        _month_trends(connection, trend_filter),
        len(missed) - len(shown) + len(gates) - len(passed),
    )


def _count_matching(connection: Connection, trend_filter: TrendFilter) -> tuple[int, int]:
    sessions = connection.execute(
        select(func.count()).select_from(schema.session).where(session_condition(trend_filter))
    ).scalar_one()
    joined = schema.finding.join(schema.session, schema.finding.c.session == schema.session.c.id)
    findings = connection.execute(
        select(func.count())
        .select_from(joined)
        .where(session_condition(trend_filter), finding_condition(trend_filter))
    ).scalar_one()
    return int(sessions), int(findings)


def _withheld(sessions: int) -> str:
    """Why a choice is not shown."""
    if sessions == 0:
        return "No session is like that."
    if sessions < MIN_SESSIONS:
        return f"Fewer than {MIN_SESSIONS} sessions are like that: too few to say anything but who flew them, so nothing is shown."
    return ""


def _missed_items(connection: Connection, trend_filter: TrendFilter) -> tuple[MissedItem, ...]:
    """Items by their share, the largest lower end of the interval first."""
    f, s = schema.finding.c, schema.session.c
    joined = schema.finding.join(schema.session, f.session == s.id)
    rows = connection.execute(
        select(
            s.pack,
            f.item,
            func.max(f.label).label("label"),
            f.gate,
            func.max(f.seat).label("seat"),
            func.count(distinct(f.session)).label("in_sessions"),
            func.count(distinct(case((f.carried.is_(True), f.session)))).label("carried"),
        )
        .select_from(joined)
        .where(session_condition(trend_filter), finding_condition(trend_filter))
        .group_by(s.pack, f.item, f.gate)
    ).all()
    passed, flown = _passages_by_gate(connection, trend_filter), _sessions_by_pack(connection, trend_filter)
    found = [_missed_item(row, passed, flown) for row in rows]
    return tuple(sorted(found, key=lambda one: (-one.share.low, -one.share.count, one.item)))


def _missed_item(
    row: Any,  # noqa: ANN401 - a row
    passed: Mapping[tuple[str, str], tuple[str, int]],
    session_counts: Mapping[str, int],
) -> MissedItem:
    title, of = passed.get((row.pack, row.gate), ("", 0)) if row.gate else ("", session_counts[row.pack])
    count = int(row.in_sessions)  # something may be found before its gate is ever passed
    share = share_of(count, max(of, count))
    return MissedItem(
        row.pack, row.item, row.label, row.gate, title or row.gate, row.seat, share, int(row.carried or 0)
    )


def _passages_by_gate(
    connection: Connection, trend_filter: TrendFilter
) -> dict[tuple[str, str], tuple[str, int]]:
    """The title of each gate, and in how many sessions it was cued; by pack and gate."""
    p, s = schema.gate_passage.c, schema.session.c
    rows = connection.execute(
        select(s.pack, p.gate, func.max(p.title), func.count(distinct(p.session)))
        .select_from(schema.gate_passage.join(schema.session, p.session == s.id))
        .where(session_condition(trend_filter))
        .group_by(s.pack, p.gate)
    )
    return {(pack, gate): (title, int(count)) for pack, gate, title, count in rows}


def _sessions_by_pack(connection: Connection, trend_filter: TrendFilter) -> dict[str, int]:
    s = schema.session.c
    rows = connection.execute(
        select(s.pack, func.count()).where(session_condition(trend_filter)).group_by(s.pack)
    )
    return {pack: int(count) for pack, count in rows}


def _gate_trends(connection: Connection, trend_filter: TrendFilter) -> tuple[GateTrend, ...]:
    """Each gate, in the order in which it is passed."""
    p, s = schema.gate_passage.c, schema.session.c
    where = [session_condition(trend_filter), p.entered_s.is_not(None)]
    if trend_filter.gate:
        where.append(p.gate == trend_filter.gate)
    rows = connection.execute(
        select(s.pack, p.gate, p.title, p.number, p.open_at_cue, p.entered_s, p.ready_s)
        .select_from(schema.gate_passage.join(schema.session, p.session == s.id))
        .where(and_(*where))
    )
    gates: dict[tuple[str, str], list[Any]] = defaultdict(list)
    for row in rows:
        gates[row.pack, row.gate].append(row)
    found = [(_median_number(row.number for row in rows), _gate_trend(rows)) for rows in gates.values()]
    return tuple(gate for _, gate in sorted(found, key=lambda one: (one[1].pack, one[0], one[1].gate)))


def _gate_trend(rows: list[Any]) -> GateTrend:
    first, of = rows[0], len(rows)
    spare_s = [row.entered_s - row.ready_s for row in rows if row.ready_s is not None]
    return GateTrend(
        first.pack,
        first.gate,
        first.title,
        share_of(sum(row.open_at_cue > 0 for row in rows), of),
        share_of(of - len(spare_s), of),
        spread_of(spare_s),
    )


def _median_number(numbers: Iterable[int]) -> float:
    ordered = sorted(numbers)
    return ordered[len(ordered) // 2]


def _class_trends(connection: Connection, trend_filter: TrendFilter, sessions: int) -> tuple[ClassTrend, ...]:
    f, s = schema.finding.c, schema.session.c
    rows = connection.execute(
        select(
            f.error_class,
            func.count(distinct(f.session)).label("in_sessions"),
            func.count().label("found"),
            func.sum(cast(f.carried, Integer)).label("carried"),
        )
        .select_from(schema.finding.join(schema.session, f.session == s.id))
        .where(session_condition(trend_filter), finding_condition(trend_filter))
        .group_by(f.error_class)
    )
    found = [
        ClassTrend(
            row.error_class,
            share_of(row.in_sessions, sessions),
            int(row.found),
            share_of(int(row.carried or 0), int(row.found)),
        )
        for row in rows
    ]
    return tuple(sorted(found, key=lambda one: -one.findings))


def _month_trends(connection: Connection, trend_filter: TrendFilter) -> tuple[MonthTrend, ...]:
    """Each month in which there were sessions enough to be shown."""
    f, s = schema.finding.c, schema.session.c
    found = case((and_(f.number.is_not(None), finding_condition(trend_filter)), 1), else_=0)
    carried = case((and_(f.carried.is_(True), finding_condition(trend_filter)), 1), else_=0)
    rows = connection.execute(
        select(s.id, s.began_utc, func.sum(found).label("found"), func.max(carried).label("carried"))
        .select_from(schema.session.outerjoin(schema.finding, f.session == s.id))
        .where(session_condition(trend_filter))
        .group_by(s.id, s.began_utc)
    )
    months: dict[str, list[Any]] = defaultdict(list)
    for row in rows:
        months[f"{datetime.fromtimestamp(row.began_utc, UTC):%Y-%m}"].append(row)
    return tuple(
        MonthTrend(
            month,
            len(rows),
            sum(int(row.found) for row in rows),
            share_of(sum(int(row.carried) for row in rows), len(rows)),
        )
        for month, rows in sorted(months.items())
        if len(rows) >= MIN_SESSIONS
    )
