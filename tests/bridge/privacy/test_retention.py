"""Tests of retention."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import Engine, func, select, update

from bridge.privacy.retention import DAY_S, find_expired, prune, retention_days, set_retention_days
from bridge.recording.recording_budget import list_recordings
from bridge.runtime.data_dir import DataDir
from bridge.store import schema
from bridge.store.database import read_transaction, write_transaction
from rules.packs.model import Pack
from tests.bridge.privacy.two_sessions import BEGAN_UTC, record_two_sessions
from tests.bridge.trends.sample_store import FIRST_UTC, fill, sample_rows

YEAR_S = 365 * DAY_S


@pytest.fixture
def full(store: Engine) -> Engine:
    """A store with sixty sessions in 330 days."""
    fill(store, sample_rows(60))
    return store


def _count(store: Engine) -> int:
    with read_transaction(store) as connection:
        return int(connection.execute(select(func.count()).select_from(schema.session)).scalar_one())


def _set(store: Engine, days: int | None) -> None:
    with write_transaction(store) as connection:
        set_retention_days(connection, days)


def test_without_retention_everything_stays(full: Engine) -> None:
    """Without a setting sessions are stored without limit."""
    assert prune(full, None, FIRST_UTC + 100 * YEAR_S).sessions == ()
    assert _count(full) == 60


def test_expired_sessions_are_removed_with_their_rows(full: Engine) -> None:
    """Expired sessions are removed with their findings and gates; later ones stay."""
    _set(full, 100)
    now_utc = FIRST_UTC + 330 * DAY_S
    expired = prune(full, None, now_utc, allow_most=True)
    with read_transaction(full) as connection:
        remaining = connection.execute(select(schema.session.c.ended_utc)).scalars().all()
        orphans = select(schema.finding).where(schema.finding.c.session.in_(expired.sessions))
        assert connection.execute(orphans).all() == []
    assert len(remaining) == 60 - len(expired.sessions) > 0
    assert min(remaining) >= now_utc - 100 * DAY_S
    assert prune(full, None, now_utc).sessions == ()


def test_retention_can_be_set_and_removed(store: Engine) -> None:
    """The setting is in the store, and can be changed or removed."""
    for days in (30, 400, None):
        _set(store, days)
        with read_transaction(store) as connection:
            assert retention_days(connection) == days


def test_a_clock_that_is_set_back_removes_nothing(full: Engine) -> None:
    """A clock before the sessions makes none of them expired."""
    _set(full, 1)
    assert prune(full, None, FIRST_UTC - YEAR_S).sessions == ()
    assert _count(full) == 60


def test_a_clock_in_the_far_future_does_not_empty_the_store(full: Engine) -> None:
    """If no session would stay, nothing is removed without `allow_most`."""
    _set(full, 100)
    expired = prune(full, None, FIRST_UTC + 20 * YEAR_S)
    assert (expired.removes_most, _count(full)) == (True, 60)
    prune(full, None, FIRST_UTC + 20 * YEAR_S, allow_most=True)
    assert _count(full) == 0
    with read_transaction(full) as connection:
        assert connection.execute(select(schema.person)).all() == []


def test_a_few_flights_on_a_wrong_clock_do_not_empty_the_store(full: Engine) -> None:
    """Sessions that ended in the far future make all others look old; nothing is removed without `allow_most`."""
    far_utc = FIRST_UTC + 20 * YEAR_S
    with write_transaction(full) as connection:
        few = schema.session.c.name.in_(["Session 1", "Session 2", "Session 3"])
        connection.execute(
            update(schema.session).where(few).values(began_utc=far_utc, last_utc=far_utc, ended_utc=far_utc)
        )
    _set(full, 100)
    expired = prune(full, None, far_utc)
    assert (len(expired.sessions), expired.remaining, expired.removed, _count(full)) == (57, 3, False, 60)


def test_a_session_with_one_recent_time_stays(full: Engine) -> None:
    """A session with one recent time stays, even if its other times are long ago."""
    _set(full, 100)
    now_utc = FIRST_UTC + 330 * DAY_S
    last = schema.session.c.name == "Session 60"
    for column in ("began_utc", "last_utc", "ended_utc"):
        with write_transaction(full) as connection:
            connection.execute(update(schema.session).where(last).values({column: 0.0}))
            expired = find_expired(connection, None, now_utc)
            assert f"{59:032x}" not in expired.sessions
            connection.execute(update(schema.session).where(last).values({column: now_utc}))


def test_a_recording_that_cannot_be_removed_keeps_its_session(
    pack: Pack, tmp_path: Path, address: str, store: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A recording that cannot be removed is reported, and its session stays for another attempt."""
    data_dir = DataDir(tmp_path)
    record_two_sessions(pack, data_dir, address)
    _set(store, 1)

    def forbidden(path: Path, **_: bool) -> None:
        raise PermissionError(13, "Permission denied", str(path))

    with monkeypatch.context() as patched:
        patched.setattr(Path, "unlink", forbidden)
        expired = prune(store, data_dir, BEGAN_UTC + YEAR_S, allow_most=True)
    assert len(expired.not_removable) == 2
    assert _count(store) == 2
    assert prune(store, data_dir, BEGAN_UTC + YEAR_S, allow_most=True).not_removable == ()
    assert (_count(store), list_recordings(data_dir.recordings)) == (0, [])


def test_a_running_session_stays(full: Engine) -> None:
    """A session that has not ended stays, however long ago it started."""
    with write_transaction(full) as connection:
        connection.execute(
            update(schema.session).where(schema.session.c.name == "Session 1").values(ending="")
        )
    _set(full, 1)
    prune(full, None, FIRST_UTC + 20 * YEAR_S, allow_most=True)
    with read_transaction(full) as connection:
        assert connection.execute(select(schema.session.c.name)).scalars().all() == ["Session 1"]


def test_recordings_are_removed_with_their_sessions(
    pack: Pack, tmp_path: Path, address: str, store: Engine
) -> None:
    """Recordings are removed with their sessions."""
    data_dir = DataDir(tmp_path)
    record_two_sessions(pack, data_dir, address)
    expired = BEGAN_UTC - YEAR_S
    with write_transaction(store) as connection:
        connection.execute(
            update(schema.session)
            .where(schema.session.c.name == "Session 1")
            .values(began_utc=expired, last_utc=expired, ended_utc=expired)
        )
        set_retention_days(connection, 30)
    with read_transaction(store) as connection:
        assert len(find_expired(connection, data_dir, BEGAN_UTC).recordings) == 1
    prune(store, data_dir, BEGAN_UTC)
    assert len(list_recordings(data_dir.recordings)) == 1
    assert _count(store) == 1
