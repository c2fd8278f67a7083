"""Lists the sessions of a store.

Takes: a store.  Gives: `SessionRow`s.
"""

from __future__ import annotations

from collections import defaultdict

import msgspec
from sqlalchemy import Connection, func, not_, select

from bridge.store import schema
from bridge.trends.unverified import is_doubt
from rules.packs.model import Level

_LEVELS = (Level.WARNING, Level.CAUTION, Level.ADVISORY)


class SessionRow(msgspec.Struct, frozen=True):
    """One session; `levels` counts its errors, the most serious first; `ending` is '' while it runs.

    `doubts` counts the findings that are not verifiable, which are no errors.
    """

    uuid: str = msgspec.field(name="uuid")
    name: str = msgspec.field(name="name")
    course: str = msgspec.field(name="course")
    device: str = msgspec.field(name="device")
    pack: str = msgspec.field(name="pack")
    began_utc: float = msgspec.field(name="began_utc")
    duration_s: float = msgspec.field(name="duration_s")
    ending: str = msgspec.field(name="ending")
    recording: str = msgspec.field(name="recording")
    levels: dict[str, int] = msgspec.field(default_factory=dict, name="levels")
    doubts: int = msgspec.field(default=0, name="doubts")


def list_sessions(connection: Connection) -> list[SessionRow]:
    """List every session, the newest last."""
    counts: dict[str, dict[str, int]] = defaultdict(dict)
    f = schema.finding.c
    found = select(f.session, f.level, func.count())
    for session, level, count in connection.execute(
        found.where(not_(is_doubt())).group_by(f.session, f.level)
    ):
        counts[session][level] = int(count)
    doubts = select(f.session, func.count()).where(is_doubt()).group_by(f.session)
    doubt_counts = {session: int(count) for session, count in connection.execute(doubts)}
    rows = connection.execute(
        select(schema.session).order_by(schema.session.c.began_utc, schema.session.c.id)
    )
    return [
        SessionRow(
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
            doubt_counts.get(row.id, 0),
        )
        for row in rows
    ]
