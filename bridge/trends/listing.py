"""The sessions of a store, one line each.

Takes: a store.  Gives: `Listed`.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from sqlalchemy import Connection, func, select

from bridge.store import schema
from rules.packs.model import Level

_LEVELS = (Level.WARNING, Level.CAUTION, Level.ADVISORY)


@dataclass(frozen=True, slots=True)
class Listed:
    """One session; `levels` counts its findings, the gravest first; `ending` is '' while it runs."""

    uuid: str
    name: str
    course: str
    device: str
    pack: str
    began_utc: float
    lasted_s: float
    ending: str
    recording: str
    levels: dict[str, int] = field(default_factory=dict)


def listed(connection: Connection) -> list[Listed]:
    """Every session, the newest last."""
    counts: dict[str, dict[str, int]] = defaultdict(dict)
    f = schema.finding.c
    for session, level, count in connection.execute(
        select(f.session, f.level, func.count()).group_by(f.session, f.level)
    ):
        counts[session][level] = int(count)
    rows = connection.execute(
        select(schema.session).order_by(schema.session.c.began_utc, schema.session.c.id)
    )
    return [
        Listed(
            row.id,
            row.name,
            row.course,
            row.device_title or row.device,
            row.pack,
            row.began_utc,
            (row.ended_utc if row.ended_utc is not None else row.last_utc) - row.began_utc,
            row.ending,
            row.recording,
            {str(level): counts[row.id][level] for level in _LEVELS if level in counts[row.id]},
        )
        for row in rows
    ]
