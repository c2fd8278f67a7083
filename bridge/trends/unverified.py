"""Counts apart what could not be verified: items, and the sessions in which that or a gap in the data occurred.

An item could not be verified in a session where a finding says so that was still open at the entry of its gate, or at the
end, and where no error was found on it: it was neither wrong nor met.  One that could be judged in time counts as any other.

Takes: a store and a filter.  Gives: `UnverifiedItem`s and counts.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any, TypeAlias

import msgspec
from sqlalchemy import ColumnElement, Connection, and_, distinct, exists, func, not_, or_, select

from bridge.session.threat_error import ErrorClass
from bridge.store import schema
from bridge.trends.filters import TrendFilter, finding_condition, session_condition
from bridge.trends.intervals import Share, share_of

ItemKey: TypeAlias = tuple[str, str, str]
"""Pack, item and gate."""


class ItemShare(msgspec.Struct, frozen=True):
    """An item, and the share of its sessions in which something was found about it."""

    pack: str = msgspec.field(name="pack")
    item: str = msgspec.field(name="item")
    label: str = msgspec.field(name="label")
    gate: str = msgspec.field(name="gate")
    gate_title: str = msgspec.field(name="gate_title")
    seat: str = msgspec.field(name="seat")
    share: Share = msgspec.field(name="share")


class UnverifiedItem(ItemShare, frozen=True):
    """An item: in how many of its sessions it could not be verified."""


def is_doubt() -> ColumnElement[bool]:
    """Return the condition on a finding that is no error but a doubt."""
    return schema.finding.c.error_class == str(ErrorClass.NOT_VERIFIABLE)


def unverified_counts(connection: Connection, trend_filter: TrendFilter) -> dict[ItemKey, int]:
    """Count the sessions of the filter in which each item could not be verified, whatever findings it selects."""
    return {(row.pack, row.item, row.gate): int(row.in_sessions) for row in _rows(connection, trend_filter)}


def unverified_items(
    connection: Connection,
    trend_filter: TrendFilter,
    passed: Mapping[tuple[str, str], tuple[str, int]],
    session_counts: Mapping[str, int],
) -> tuple[UnverifiedItem, ...]:
    """List the items that could not be verified, the most frequent first.

    Args:
        connection: A connection to the store.
        trend_filter: Selects sessions and findings.
        passed: Title and number of sessions of each gate that was cued, by pack and gate.
        session_counts: The number of sessions by pack.
    """
    found = []
    for row in _rows(connection, trend_filter, finding_condition(trend_filter)):
        title, of = passed.get((row.pack, row.gate), ("", 0)) if row.gate else ("", session_counts[row.pack])
        share = share_of(int(row.in_sessions), max(of, int(row.in_sessions)))
        found.append(
            UnverifiedItem(row.pack, row.item, row.label, row.gate, title or row.gate, row.seat, share)
        )
    return tuple(sorted(found, key=lambda one: (-one.share.count, -one.share.low, one.item)))


def count_doubt_sessions(connection: Connection, trend_filter: TrendFilter) -> int:
    """Count the sessions with a finding that is not verifiable."""
    f, s = schema.finding.c, schema.session.c
    joined = schema.finding.join(schema.session, f.session == s.id)
    where = session_condition(trend_filter), finding_condition(trend_filter), is_doubt()
    return int(
        connection.execute(
            select(func.count(distinct(f.session))).select_from(joined).where(*where)
        ).scalar_one()
    )


def count_gap_sessions(connection: Connection, trend_filter: TrendFilter) -> int:
    """Count the sessions in which data were missing."""
    s = schema.session.c
    gap = exists().where(schema.data_gap.c.session == s.id)
    where = session_condition(trend_filter), gap
    return int(
        connection.execute(select(func.count()).select_from(schema.session).where(*where)).scalar_one()
    )


def _rows(
    connection: Connection, trend_filter: TrendFilter, *conditions: ColumnElement[bool]
) -> Collection[Any]:
    """Give pack, item, gate, label, seat and the number of sessions of each item that could not be verified."""
    f, s = schema.finding.c, schema.session.c
    other = schema.finding.alias()
    error = exists().where(
        other.c.session == f.session,
        other.c.item == f.item,
        other.c.gate == f.gate,
        other.c.error_class != str(ErrorClass.NOT_VERIFIABLE),
    )
    unresolved = and_(is_doubt(), or_(f.corrected.is_(False), f.carried.is_(True)), not_(error))
    rows = (
        select(
            s.pack,
            f.item,
            f.gate,
            func.max(f.label).label("label"),
            func.max(f.seat).label("seat"),
            func.count(distinct(f.session)).label("in_sessions"),
        )
        .select_from(schema.finding.join(schema.session, f.session == s.id))
        .where(session_condition(trend_filter), unresolved, *conditions)
        .group_by(s.pack, f.item, f.gate)
    )
    return connection.execute(rows).all()
