"""For how long sessions are kept, and removing those that are older.

Takes: a store, the folder in which things are kept, the time.  Gives: `Tidied`.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, Engine, delete, func, insert, select

from bridge.keep import Keep
from bridge.record.shelf import recordings
from bridge.store import schema
from bridge.store.opening import writing

KEY = "kept days"
DAY_S = 86_400.0
LONGEST_DAYS = 36_500


@dataclass(frozen=True, slots=True)
class Tidied:
    """What is too old: sessions, and the names of their recordings.  `all_of_them` where no session would be left."""

    days: int | None
    sessions: tuple[str, ...] = ()
    recordings: tuple[str, ...] = ()
    all_of_them: bool = False


def kept_days(connection: Connection) -> int | None:
    """For how many days a session is kept; None for ever."""
    setting = schema.setting.c
    found = connection.execute(select(setting.value).where(setting.key == KEY)).scalar()
    return int(found) if found else None


def keep_days(connection: Connection, days: int | None) -> None:
    """Keep sessions for so many days from now on, None for ever."""
    connection.execute(delete(schema.setting).where(schema.setting.c.key == KEY))
    if days is not None:
        connection.execute(insert(schema.setting).values(key=KEY, value=str(days)))


def too_old(connection: Connection, keep: Keep | None, now_utc: float) -> Tidied:
    """What is older than sessions are kept.

    Args:
        connection: to the store.
        keep: the folder of recordings, if any.
        now_utc: now, in seconds since 1970.

    Returns:
        Sessions that are over and whose end is as long ago; nothing where they are kept for ever, or the clock stands before
        their end.
    """
    days = kept_days(connection)
    if days is None:
        return Tidied(None)
    rows = connection.execute(
        select(schema.session.c.id, schema.session.c.recording).where(_older(now_utc - days * DAY_S))
    ).all()
    count = connection.execute(select(func.count()).select_from(schema.session)).scalar_one()
    stems = {row.recording for row in rows if row.recording}
    held = [kept.stem for kept in recordings(keep.recordings)] if keep is not None else []
    return Tidied(
        days,
        tuple(row.id for row in rows),
        tuple(stem for stem in held if stem in stems),
        bool(rows) and len(rows) == count,
    )


def tidy(engine: Engine, keep: Keep | None, now_utc: float, *, all_of_them: bool = False) -> Tidied:
    """Remove what is too old, with its recordings and with persons of whom nothing is left.

    A clock that stands wrong in the far future would make everything too old: then nothing is removed, unless that is
    said to be meant.

    Args:
        engine: the store, open.
        keep: the folder of recordings, if any.
        now_utc: now, in seconds since 1970.
        all_of_them: whether it may be everything.
    """
    with writing(engine) as connection:
        old = too_old(connection, keep, now_utc)
        if not old.sessions or (old.all_of_them and not all_of_them):
            return old
        _unlink(keep, old.recordings)
        connection.execute(delete(schema.session).where(schema.session.c.id.in_(old.sessions)))
        seated = select(schema.seating.c.person).where(schema.seating.c.person.is_not(None))
        connection.execute(delete(schema.person).where(schema.person.c.id.not_in(seated)))
    return old


def _older(than_utc: float) -> ColumnElement[bool]:
    table = schema.session.c
    return (table.ending != "") & (func.coalesce(table.ended_utc, table.last_utc) < than_utc)


def _unlink(keep: Keep | None, stems: tuple[str, ...]) -> None:
    """Remove recordings, the last part first, so that what is left of one can still be read."""
    for kept in recordings(keep.recordings) if keep is not None else ():
        if kept.stem in stems:
            for part in reversed(kept.parts):
                part.unlink(missing_ok=True)
