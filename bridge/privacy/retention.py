"""Sets for how long sessions are stored, and removes older ones.

A wall clock in the far future makes every session old, also if one or two sessions were flown with it.  A watch
therefore removes nothing if more sessions would be removed than stay; a person must allow that.

Takes: a store, the data directory, the time.  Gives: `PruneReport`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sqlalchemy import ColumnElement, Connection, Engine, delete, func, insert, select

from bridge.privacy import vacuum
from bridge.privacy.redact_recordings import remove_recording
from bridge.recording.live_file import ACTIVE_WITHIN_S
from bridge.recording.recording_budget import RecordingFiles, list_recordings
from bridge.runtime.data_dir import DataDir
from bridge.store import schema
from bridge.store.database import write_transaction

RETENTION_KEY = "retention days"
DAY_S = 86_400.0
MAX_DAYS = 36_500


@dataclass(frozen=True, slots=True)
class PruneReport:
    """The sessions that are older than the retention.

    Attributes:
        retention_days: Days for which sessions are stored; None: no limit.
        sessions: The ids of older sessions.
        recordings: The names of their recordings that exist.
        remaining: The number of ended sessions that are not older.
        removed: True if they were removed.
        not_removable: Recordings that could not be removed; their sessions stay.
    """

    retention_days: int | None
    sessions: tuple[str, ...] = ()
    recordings: tuple[str, ...] = ()
    remaining: int = 0
    removed: bool = False
    not_removable: tuple[str, ...] = ()

    @property
    def removes_most(self) -> bool:
        """True if more sessions would be removed than stay: the clock may be wrong."""
        return len(self.sessions) > self.remaining


def retention_days(connection: Connection) -> int | None:
    """Return for how many days sessions are stored; None: no limit."""
    setting = schema.setting.c
    found = connection.execute(select(setting.value).where(setting.key == RETENTION_KEY)).scalar()
    return int(found) if found and found.isdecimal() else None


def set_retention_days(connection: Connection, days: int | None) -> None:
    """Store sessions for so many days from now on; None: no limit."""
    connection.execute(delete(schema.setting).where(schema.setting.c.key == RETENTION_KEY))
    if days is not None:
        connection.execute(insert(schema.setting).values(key=RETENTION_KEY, value=str(days)))


def find_expired(connection: Connection, data_dir: DataDir | None, now_utc: float) -> PruneReport:
    """Find the sessions that are older than the retention.

    Args:
        connection: A connection to the store.
        data_dir: The data directory, if any.
        now_utc: Now, in seconds since 1970.

    Returns:
        Ended sessions all of whose times are older; none if there is no limit.
    """
    days = retention_days(connection)
    if days is None:
        return PruneReport(None)
    row = schema.session.c
    recordings = _recordings_by_stem(data_dir)
    found = connection.execute(
        select(row.id, row.recording).where(_ended_before(now_utc - days * DAY_S))
    ).all()
    ended = connection.execute(
        select(func.count()).select_from(schema.session).where(row.ending != "")
    ).scalar_one()
    expired = [(id_, stem) for id_, stem in found if not _being_written(recordings.get(stem), now_utc)]
    stems = tuple(stem for _, stem in expired if stem in recordings)
    return PruneReport(days, tuple(id_ for id_, _ in expired), stems, int(ended) - len(expired))


def prune(
    engine: Engine, data_dir: DataDir | None, now_utc: float, *, allow_most: bool = False
) -> PruneReport:
    """Remove expired sessions, their recordings, and persons without any session.

    A recording is removed before its session, so that the next run finishes one that was interrupted.

    Args:
        engine: The store, open.
        data_dir: The data directory, if any.
        now_utc: Now, in seconds since 1970.
        allow_most: True to remove even more sessions than stay; otherwise nothing is removed then.

    Returns:
        The report; `removed` is False if nothing was removed.

    Raises:
        DBAPIError: The database refuses it now.
    """
    with write_transaction(engine) as connection:
        expired = find_expired(connection, data_dir, now_utc)
        if not expired.sessions or (expired.removes_most and not allow_most):
            return expired
        not_removable = tuple(_remove_recordings(_recordings_by_stem(data_dir), expired.recordings))
        row = schema.session.c
        removable = row.id.in_(expired.sessions), row.recording.not_in(not_removable)
        connection.execute(delete(schema.session).where(*removable))
        seated = select(schema.seating.c.person).where(schema.seating.c.person.is_not(None))
        connection.execute(delete(schema.person).where(schema.person.c.id.not_in(seated)))
        vacuum.mark_pending(connection)
    return PruneReport(
        expired.retention_days,
        expired.sessions,
        expired.recordings,
        expired.remaining,
        removed=True,
        not_removable=not_removable,
    )


def _ended_before(than_utc: float) -> ColumnElement[bool]:
    """Return the condition that all times of a session are before one; a clock that was set back changes only some."""
    row = schema.session.c
    last = func.coalesce(row.ended_utc, row.last_utc)
    return (row.ending != "") & (row.began_utc < than_utc) & (row.last_utc < than_utc) & (last < than_utc)


def _recordings_by_stem(data_dir: DataDir | None) -> Mapping[str, RecordingFiles]:
    return (
        {recording.stem: recording for recording in list_recordings(data_dir.recordings)}
        if data_dir is not None
        else {}
    )


def _being_written(recording: RecordingFiles | None, now_utc: float) -> bool:
    """Return True if a recording is being written now."""
    return recording is not None and abs(now_utc - recording.modified_utc) < ACTIVE_WITHIN_S


def _remove_recordings(by_stem: Mapping[str, RecordingFiles], stems: tuple[str, ...]) -> Iterator[str]:
    """Remove recordings; yields those that could not be removed."""
    for stem in stems:
        try:
            remove_recording(by_stem[stem])
        except OSError:
            yield stem
