"""For how long sessions are kept, and removing those that are older.

A clock that stands wrong in the far future makes everything too old, also when a session or two were flown with it.  So what a
watch does by itself stops where more sessions would go than stay; somebody has to say that this is meant.

Takes: a store, the folder in which things are kept, the time.  Gives: `Tidied`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, Engine, delete, func, insert, select

from bridge.privacy import vacuum
from bridge.privacy.redact_recordings import remove_recording
from bridge.recording.retention import ACTIVE_WITHIN_S, RecordingFiles, list_recordings
from bridge.runtime.data_dir import DataDir
from bridge.store import schema
from bridge.store.database import write_transaction

RETENTION_KEY = "retention days"
DAY_S = 86_400.0
MAX_DAYS = 36_500


@dataclass(frozen=True, slots=True)
class PruneReport:
    """What is too old.

    Attributes:
        days: For how many days sessions are kept; None for ever.
        sessions: Those that are older.
        recordings: The names of their recordings that are there.
        stay: How many that have ended are not older.
        done: Whether they were removed.
        stuck: Recordings that could not be removed; their sessions stay.
    """

    retention_days: int | None
    sessions: tuple[str, ...] = ()
    recordings: tuple[str, ...] = ()
    remaining: int = 0
    removed: bool = False
    not_removable: tuple[str, ...] = ()

    @property
    def removes_most(self) -> bool:
        """Whether more would go than stay: then the clock may be wrong."""
        return len(self.sessions) > self.remaining


def retention_days(connection: Connection) -> int | None:
    """For how many days a session is kept; None for ever."""
    setting = schema.setting.c
    found = connection.execute(select(setting.value).where(setting.key == RETENTION_KEY)).scalar()
    return int(found) if found and found.isdecimal() else None


def set_retention_days(connection: Connection, days: int | None) -> None:
    """Keep sessions for so many days from now on, None for ever."""
    connection.execute(delete(schema.setting).where(schema.setting.c.key == RETENTION_KEY))
    if days is not None:
        connection.execute(insert(schema.setting).values(key=RETENTION_KEY, value=str(days)))


def find_expired(connection: Connection, data_dir: DataDir | None, now_utc: float) -> PruneReport:
    """What is older than sessions are kept.

    Args:
        connection: to the store.
        data_dir: the folder of recordings, if any.
        now_utc: now, in seconds since 1970.

    Returns:
        Sessions that have ended, and of which no time that the clock showed is as near as that; nothing where they are kept
        for ever.
    """
    days = retention_days(connection)
    if days is None:
        return PruneReport(None)
    row = schema.session.c
    held = _recordings_by_stem(data_dir)
    found = connection.execute(
        select(row.id, row.recording).where(_ended_before(now_utc - days * DAY_S))
    ).all()
    ended = connection.execute(
        select(func.count()).select_from(schema.session).where(row.ending != "")
    ).scalar_one()
    old = [(id_, stem) for id_, stem in found if not _being_written(held.get(stem), now_utc)]
    stems = tuple(stem for _, stem in old if stem in held)
    return PruneReport(days, tuple(id_ for id_, _ in old), stems, int(ended) - len(old))


def prune(
    engine: Engine, data_dir: DataDir | None, now_utc: float, *, allow_most: bool = False
) -> PruneReport:
    """Remove what is too old, with its recordings and with persons of whom nothing is left.

    A recording goes before its session, so that a run that was cut off is finished by the next.

    Args:
        engine: the store, open.
        data_dir: the folder of recordings, if any.
        now_utc: now, in seconds since 1970.
        allow_most: whether it may be more than what stays; without, nothing is removed then.

    Returns:
        What was removed, `done`; or what would have been.

    Raises:
        DBAPIError: the database does not take it now.
    """
    with write_transaction(engine) as connection:
        old = find_expired(connection, data_dir, now_utc)
        if not old.sessions or (old.removes_most and not allow_most):
            return old
        stuck = tuple(_remove_recordings(_recordings_by_stem(data_dir), old.recordings))
        row = schema.session.c
        gone = row.id.in_(old.sessions), row.recording.not_in(stuck)
        connection.execute(delete(schema.session).where(*gone))
        seated = select(schema.seating.c.person).where(schema.seating.c.person.is_not(None))
        connection.execute(delete(schema.person).where(schema.person.c.id.not_in(seated)))
        vacuum.mark_pending(connection)
    return PruneReport(
        old.retention_days, old.sessions, old.recordings, old.remaining, removed=True, not_removable=stuck
    )


def _ended_before(than_utc: float) -> ColumnElement[bool]:
    """Whether all times of a session are before one; a clock that was set back in its midst made only some of them so."""
    row = schema.session.c
    last = func.coalesce(row.ended_utc, row.last_utc)
    return (row.ending != "") & (row.began_utc < than_utc) & (row.last_utc < than_utc) & (last < than_utc)


def _recordings_by_stem(data_dir: DataDir | None) -> Mapping[str, RecordingFiles]:
    return {kept.stem: kept for kept in list_recordings(data_dir.recordings)} if data_dir is not None else {}


def _being_written(recording: RecordingFiles | None, now_utc: float) -> bool:
    """Whether a recording is being written now."""
    return recording is not None and abs(now_utc - recording.modified_utc) < ACTIVE_WITHIN_S


def _remove_recordings(by_stem: Mapping[str, RecordingFiles], stems: tuple[str, ...]) -> Iterator[str]:
    """Remove recordings; gives those that could not be removed."""
    for stem in stems:
        try:
            remove_recording(by_stem[stem])
        except OSError:
            yield stem
