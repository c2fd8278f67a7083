"""Calculates trends: missed items, gates with their spare time, error classes, and months.

The number of chances is a number of sessions.  An item of a gate has a chance in each session of the same pack in
which that gate was cued; a watch, which has no gate, has one in each session.  An item counts once in a session,
however often it was found there.  A session in which the item could not be verified is no chance: it is counted apart.

Takes: a store and a filter.  Gives: `Trends`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime
from typing import Any

import msgspec
from sqlalchemy import ColumnElement, Connection, Integer, and_, case, cast, distinct, func, select

from bridge.session.threat_error import ErrorClass
from bridge.store import schema
from bridge.trends.filters import (
    TrendFilter,
    check_filter,
    error_condition,
    finding_condition,
    session_condition,
)
from bridge.trends.intervals import Share, Spread, share_of, spread_of
from bridge.trends.unverified import (
    ItemShare,
    UnverifiedItem,
    count_doubt_sessions,
    count_gap_sessions,
    is_doubt,
    unverified_counts,
    unverified_items,
)

MIN_SESSIONS = 5
"""A selection or row with fewer sessions is not shown: it would say more about one crew than about crews."""


class MissedItem(ItemShare, frozen=True):
    """An item: in how many of its sessions it was found wrong, and in how many of these it was carried.

    `not_verified` counts further sessions in which it could not be verified; they are not in `share`.
    """

    carried: int = msgspec.field(name="carried")
    not_verified: int = msgspec.field(default=0, name="not_verified")


class GateTrend(msgspec.Struct, frozen=True):
    """A gate: passages with open items at the cue, passages entered while not ready, and spare time of the others.

    `fully_judged` is the share of passages at which every need could be judged, of those for which it is recorded: the
    other numbers say nothing about needs that were not judged.
    """

    pack: str = msgspec.field(name="pack")
    gate: str = msgspec.field(name="gate")
    title: str = msgspec.field(name="title")
    open_at_cue: Share = msgspec.field(name="open_at_cue")
    not_ready: Share = msgspec.field(name="not_ready")
    spare_s: Spread | None = msgspec.field(name="spare_s")
    fully_judged: Share = msgspec.field(name="fully_judged")


class ClassTrend(msgspec.Struct, frozen=True):
    """An error class: its sessions, its findings, and how many of these were carried."""

    error_class: str = msgspec.field(name="error_class")
    sessions: Share = msgspec.field(name="sessions")
    findings: int = msgspec.field(name="findings")
    carried: Share = msgspec.field(name="carried")


class MonthTrend(msgspec.Struct, frozen=True):
    """One month: its sessions, findings, and sessions in which something was carried."""

    month: str = msgspec.field(name="month")
    sessions: int = msgspec.field(name="sessions")
    findings: int = msgspec.field(name="findings")
    carried: Share = msgspec.field(name="carried")


class Trends(msgspec.Struct, frozen=True):
    """All trends.

    `withheld` is the reason why nothing is shown, '' if something is; then all counts but `sessions` are None.  `findings`
    are errors, `doubts` the findings that are not verifiable, `doubt_sessions` the sessions with one of these,
    `gap_sessions` those in which data were missing.  `rare` counts items and gates of too few sessions.
    """

    sessions: int = msgspec.field(name="sessions")
    findings: int | None = msgspec.field(name="findings")
    doubts: int | None = msgspec.field(name="doubts")
    withheld: str = msgspec.field(default="", name="withheld")
    missed: tuple[MissedItem, ...] = msgspec.field(default=(), name="missed")
    gates: tuple[GateTrend, ...] = msgspec.field(default=(), name="gates")
    classes: tuple[ClassTrend, ...] = msgspec.field(default=(), name="classes")
    months: tuple[MonthTrend, ...] = msgspec.field(default=(), name="months")
    rare: int | None = msgspec.field(default=None, name="rare")
    unverified: tuple[UnverifiedItem, ...] = msgspec.field(default=(), name="unverified")
    doubt_sessions: int | None = msgspec.field(default=None, name="doubt_sessions")
    gap_sessions: int | None = msgspec.field(default=None, name="gap_sessions")

    @property
    def packs(self) -> frozenset[str]:
        """The packs that judged the sessions."""
        items = [one.pack for one in self.missed] + [one.pack for one in self.unverified]
        return frozenset(items + [gate.pack for gate in self.gates])


def calculate_trends(connection: Connection, trend_filter: TrendFilter) -> Trends:
    """Calculate the trends.

    Args:
        connection: A connection to the store.
        trend_filter: Selects sessions and findings.

    Raises:
        InputFaults: A filter has a value that is not in the store.
    """
    check_filter(trend_filter, connection)
    sessions = _count_sessions(connection, trend_filter)
    withheld = _withheld(sessions)
    if withheld:
        return Trends(sessions, None, None, withheld)
    findings = _count_findings(connection, trend_filter, error_condition(trend_filter))
    doubts = and_(finding_condition(trend_filter), is_doubt())
    passed, by_pack = _passages_by_gate(connection, trend_filter), _sessions_by_pack(connection, trend_filter)
    missed = _missed_items(connection, trend_filter, passed, by_pack)
    unverified = (
        () if _asks_for_doubts(trend_filter) else unverified_items(connection, trend_filter, passed, by_pack)
    )
    gates = _gate_trends(connection, trend_filter)
    shown_items = tuple(one for one in missed if one.share.of >= MIN_SESSIONS)
    shown_doubts = tuple(one for one in unverified if one.share.of >= MIN_SESSIONS)
    shown_gates = tuple(one for one in gates if one.not_ready.of >= MIN_SESSIONS)
    return Trends(
        sessions,
        findings,
        0 if _asks_for_doubts(trend_filter) else _count_findings(connection, trend_filter, doubts),
        missed=shown_items,
        gates=shown_gates,
        classes=_class_trends(connection, trend_filter, sessions),
        months=_month_trends(connection, trend_filter),
        rare=len(missed)
        + len(unverified)
        + len(gates)
        - len(shown_items)
        - len(shown_doubts)
        - len(shown_gates),
        unverified=shown_doubts,
        doubt_sessions=count_doubt_sessions(connection, trend_filter),
        gap_sessions=count_gap_sessions(connection, trend_filter),
    )


def _asks_for_doubts(trend_filter: TrendFilter) -> bool:
    """True if the filter selects what is not verifiable; it is then counted like errors."""
    return trend_filter.error_class == str(ErrorClass.NOT_VERIFIABLE)


def _count_sessions(connection: Connection, trend_filter: TrendFilter) -> int:
    return int(
        connection.execute(
            select(func.count()).select_from(schema.session).where(session_condition(trend_filter))
        ).scalar_one()
    )


def _count_findings(connection: Connection, trend_filter: TrendFilter, condition: ColumnElement[bool]) -> int:
    joined = schema.finding.join(schema.session, schema.finding.c.session == schema.session.c.id)
    return int(
        connection.execute(
            select(func.count()).select_from(joined).where(session_condition(trend_filter), condition)
        ).scalar_one()
    )


def _withheld(sessions: int) -> str:
    """Return the reason why a selection is not shown, '' if it is."""
    if sessions == 0:
        return "No session matches."
    if sessions < MIN_SESSIONS:
        return f"Too few sessions ({sessions}): fewer than {MIN_SESSIONS} would show one crew rather than a trend, so nothing is shown."
    return ""


def _missed_items(
    connection: Connection,
    trend_filter: TrendFilter,
    passed: Mapping[tuple[str, str], tuple[str, int]],
    session_counts: Mapping[str, int],
) -> tuple[MissedItem, ...]:
    """List items, the largest lower end of the interval first."""
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
        .where(session_condition(trend_filter), error_condition(trend_filter))
        .group_by(s.pack, f.item, f.gate)
    ).all()
    doubts = {} if _asks_for_doubts(trend_filter) else unverified_counts(connection, trend_filter)
    found = [
        _missed_item(row, passed, session_counts, doubts.get((row.pack, row.item, row.gate), 0))
        for row in rows
    ]
    return tuple(sorted(found, key=lambda trend: (-trend.share.low, -trend.share.count, trend.item)))


def _missed_item(
    row: Any,  # noqa: ANN401 - a row
    passed: Mapping[tuple[str, str], tuple[str, int]],
    session_counts: Mapping[str, int],
    not_verified: int,
) -> MissedItem:
    title, of = passed.get((row.pack, row.gate), ("", 0)) if row.gate else ("", session_counts[row.pack])
    count = int(row.in_sessions)  # an item can be found wrong before its gate is passed
    share = share_of(count, max(of - not_verified, count))
    return MissedItem(
        row.pack,
        row.item,
        row.label,
        row.gate,
        title or row.gate,
        row.seat,
        share,
        int(row.carried or 0),
        not_verified,
    )


def _passages_by_gate(
    connection: Connection, trend_filter: TrendFilter
) -> dict[tuple[str, str], tuple[str, int]]:
    """Return title and number of sessions of each gate that was cued, by pack and gate."""
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
    """List gates in the order in which they are passed."""
    p, s = schema.gate_passage.c, schema.session.c
    where = [session_condition(trend_filter), p.entered_s.is_not(None)]
    if trend_filter.gate:
        where.append(p.gate == trend_filter.gate)
    rows = connection.execute(
        select(s.pack, p.gate, p.title, p.number, p.open_at_cue, p.entered_s, p.ready_s, p.needs, p.judged)
        .select_from(schema.gate_passage.join(schema.session, p.session == s.id))
        .where(and_(*where))
    )
    gates: dict[tuple[str, str], list[Any]] = defaultdict(list)
    for row in rows:
        gates[row.pack, row.gate].append(row)
    found = [(_median_number(row.number for row in rows), _gate_trend(rows)) for rows in gates.values()]
    return tuple(
        gate for _, gate in sorted(found, key=lambda trend: (trend[1].pack, trend[0], trend[1].gate))
    )


def _gate_trend(rows: list[Any]) -> GateTrend:
    first, of = rows[0], len(rows)
    spare_s = [row.entered_s - row.ready_s for row in rows if row.ready_s is not None]
    recorded = [row for row in rows if row.judged is not None]
    return GateTrend(
        first.pack,
        first.gate,
        first.title,
        share_of(sum(row.open_at_cue > 0 for row in rows), of),
        share_of(of - len(spare_s), of),
        spread_of(spare_s),
        share_of(sum(row.judged == row.needs for row in recorded), len(recorded)),
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
    return tuple(sorted(found, key=lambda trend: -trend.findings))


def _month_trends(connection: Connection, trend_filter: TrendFilter) -> tuple[MonthTrend, ...]:
    """List the months with enough sessions."""
    f, s = schema.finding.c, schema.session.c
    found = case((and_(f.number.is_not(None), error_condition(trend_filter)), 1), else_=0)
    carried = case((and_(f.carried.is_(True), error_condition(trend_filter)), 1), else_=0)
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
