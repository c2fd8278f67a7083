"""Lists the sessions of a store.

Takes: a store.  Gives: `SessionRow`s.
"""

from __future__ import annotations

from collections import defaultdict

import msgspec
from sqlalchemy import Connection, func, select

from bridge.store import schema
from rules.packs.model import Level

_LEVELS = (Level.WARNING, Level.CAUTION, Level.ADVISORY)


class SessionRow(msgspec.Struct, frozen=True):
    """One session; `levels` counts its findings, the most serious first; `ending` is '' while it runs."""

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


def list_sessions(connection: Connection) -> list[SessionRow]:
    """List every session, the newest last."""
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
        )
        for row in rows
    ]
