"""For how long sessions are kept, and removing those that are older.

A clock that stands wrong in the far future makes everything too old, also when a session or two were flown with it.  So what a
watch does by itself stops where more sessions would go than stay; somebody has to say that this is meant.

Takes: a store, the folder in which things are kept, the time.  Gives: `Tidied`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, Engine, delete, func, insert, select

from bridge.keep import Keep
from bridge.people import forgetting
from bridge.people.tapes import remove
from bridge.record.shelf import TOUCHED_S, Kept, recordings
from bridge.store import schema
from bridge.store.opening import writing

KEY = "kept days"
DAY_S = 86_400.0
LONGEST_DAYS = 36_500


@dataclass(frozen=True, slots=True)
class Tidied:
    """What is too old.

    Attributes:
        days: For how many days sessions are kept; None for ever.
        sessions: Those that are older.
        recordings: The names of their recordings that are there.
        stay: How many that have ended are not older.
        done: Whether they were removed.
        stuck: Recordings that could not be removed; their sessions stay.
    """

    days: int | None
    sessions: tuple[str, ...] = ()
    recordings: tuple[str, ...] = ()
    stay: int = 0
    done: bool = False
    stuck: tuple[str, ...] = ()

    @property
    def doubtful(self) -> bool:
        """Whether more would go than stay: then the clock may be wrong."""
        return len(self.sessions) > self.stay


def kept_days(connection: Connection) -> int | None:
    """For how many days a session is kept; None for ever."""
    setting = schema.setting.c
    found = connection.execute(select(setting.value).where(setting.key == KEY)).scalar()
    return int(found) if found and found.isdecimal() else None


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
        Sessions that have ended, and of which no time that the clock showed is as near as that; nothing where they are kept
        for ever.
    """
    days = kept_days(connection)
    if days is None:
        return Tidied(None)
    row = schema.session.c
    held = _held(keep)
    found = connection.execute(select(row.id, row.recording).where(_older(now_utc - days * DAY_S))).all()
    ended = connection.execute(
        select(func.count()).select_from(schema.session).where(row.ending != "")
    ).scalar_one()
    old = [(id_, stem) for id_, stem in found if not _touched(held.get(stem), now_utc)]
    stems = tuple(stem for _, stem in old if stem in held)
    return Tidied(days, tuple(id_ for id_, _ in old), stems, int(ended) - len(old))


def tidy(engine: Engine, keep: Keep | None, now_utc: float, *, even_most: bool = False) -> Tidied:
    """Remove what is too old, with its recordings and with persons of whom nothing is left.

    A recording goes before its session, so that a run that was cut off is finished by the next.

    Args:
        engine: the store, open.
        keep: the folder of recordings, if any.
        now_utc: now, in seconds since 1970.
        even_most: whether it may be more than what stays; without, nothing is removed then.

    Returns:
        What was removed, `done`; or what would have been.

    Raises:
        DBAPIError: the database does not take it now.
    """
    with writing(engine) as connection:
        old = too_old(connection, keep, now_utc)
        if not old.sessions or (old.doubtful and not even_most):
            return old
        stuck = tuple(_unlinked(_held(keep), old.recordings))
        row = schema.session.c
        gone = row.id.in_(old.sessions), row.recording.not_in(stuck)
        connection.execute(delete(schema.session).where(*gone))
        seated = select(schema.seating.c.person).where(schema.seating.c.person.is_not(None))
        connection.execute(delete(schema.person).where(schema.person.c.id.not_in(seated)))
        forgetting.mark(connection)
    return Tidied(old.days, old.sessions, old.recordings, old.stay, done=True, stuck=stuck)


def _older(than_utc: float) -> ColumnElement[bool]:
    """Whether all times of a session are before one; a clock that was set back in its midst made only some of them so."""
    row = schema.session.c
    last = func.coalesce(row.ended_utc, row.last_utc)
    return (row.ending != "") & (row.began_utc < than_utc) & (row.last_utc < than_utc) & (last < than_utc)


def _held(keep: Keep | None) -> Mapping[str, Kept]:
    return {kept.stem: kept for kept in recordings(keep.recordings)} if keep is not None else {}


def _touched(kept: Kept | None, now_utc: float) -> bool:
    """Whether a recording is being written now."""
    return kept is not None and abs(now_utc - kept.touched_utc) < TOUCHED_S


def _unlinked(held: Mapping[str, Kept], stems: tuple[str, ...]) -> Iterator[str]:
    """Remove recordings; gives those that could not be removed."""
    for stem in stems:
        try:
            remove(held[stem])
        except OSError:
            yield stem
