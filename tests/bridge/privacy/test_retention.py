"""For how long sessions are kept."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import Engine, func, select, update

from bridge.privacy.retention import DAY_S, find_expired, prune, retention_days, set_retention_days
from bridge.recording.retention import list_recordings
from bridge.runtime.data_dir import DataDir
from bridge.store import schema
from bridge.store.database import read_transaction, write_transaction
from rules.packs.model import Pack
from tests.bridge.privacy.two_sessions import BEGAN_UTC, record_two_sessions
from tests.bridge.trends.sample_store import FIRST_UTC, fill, sample_rows

YEAR_S = 365 * DAY_S


@pytest.fixture
def full(store: Engine) -> Engine:
    """Sixty sessions through 330 days."""
    fill(store, sample_rows(60))
    return store


def _count(store: Engine) -> int:
    with read_transaction(store) as connection:
        return int(connection.execute(select(func.count()).select_from(schema.session)).scalar_one())


def _set(store: Engine, days: int | None) -> None:
    with write_transaction(store) as connection:
        set_retention_days(connection, days)


def test_without_a_period_everything_stays(full: Engine) -> None:
    """Until somebody says for how long, sessions are kept for ever."""
    assert prune(full, None, FIRST_UTC + 100 * YEAR_S).sessions == ()
    assert _count(full) == 60


def test_what_is_older_goes_with_all_that_belongs_to_it(full: Engine) -> None:
    """Sessions that ended before the period are removed with their findings and gates; those after stay."""
    _set(full, 100)
    now_utc = FIRST_UTC + 330 * DAY_S
    old = prune(full, None, now_utc, allow_most=True)
    with read_transaction(full) as connection:
        left = connection.execute(select(schema.session.c.ended_utc)).scalars().all()
        orphans = select(schema.finding).where(schema.finding.c.session.in_(old.sessions))
        assert connection.execute(orphans).all() == []
    assert len(left) == 60 - len(old.sessions) > 0
    assert min(left) >= now_utc - 100 * DAY_S
    assert prune(full, None, now_utc).sessions == ()


def test_the_period_is_set_and_taken_back(store: Engine) -> None:
    """The period stands in the store, and can be set anew or taken away."""
    for days in (30, 400, None):
        _set(store, days)
        with read_transaction(store) as connection:
            assert retention_days(connection) == days


def test_a_clock_set_back_removes_nothing(full: Engine) -> None:
    """A clock that stands before the sessions makes none of them old."""
    _set(full, 1)
    assert prune(full, None, FIRST_UTC - YEAR_S).sessions == ()
    assert _count(full) == 60


def test_a_clock_in_the_far_future_does_not_empty_the_store(full: Engine) -> None:
    """Where no session would be left nothing is removed, unless that is said to be meant."""
    _set(full, 100)
    old = prune(full, None, FIRST_UTC + 20 * YEAR_S)
    assert (old.removes_most, _count(full)) == (True, 60)
    prune(full, None, FIRST_UTC + 20 * YEAR_S, allow_most=True)
    assert _count(full) == 0
    with read_transaction(full) as connection:
        assert connection.execute(select(schema.person)).all() == []


def test_a_few_flights_on_a_wrong_clock_do_not_empty_the_store(full: Engine) -> None:
    """Where some sessions ended in the far future all others seem old; still nothing goes by itself."""
    far_utc = FIRST_UTC + 20 * YEAR_S
    with write_transaction(full) as connection:
        few = schema.session.c.name.in_(["Session 1", "Session 2", "Session 3"])
        connection.execute(
            update(schema.session).where(few).values(began_utc=far_utc, last_utc=far_utc, ended_utc=far_utc)
        )
    _set(full, 100)
    old = prune(full, None, far_utc)
    assert (len(old.sessions), old.remaining, old.removed, _count(full)) == (57, 3, False, 60)


def test_a_clock_set_back_in_the_midst_of_a_session_makes_it_no_older(full: Engine) -> None:
    """A session of which one time is recent stays, though others of its times are long ago."""
    _set(full, 100)
    now_utc = FIRST_UTC + 330 * DAY_S
    last = schema.session.c.name == "Session 60"
    for column in ("began_utc", "last_utc", "ended_utc"):
        with write_transaction(full) as connection:
            connection.execute(update(schema.session).where(last).values({column: 0.0}))
            old = find_expired(connection, None, now_utc)
            assert f"{59:032x}" not in old.sessions
            connection.execute(update(schema.session).where(last).values({column: now_utc}))


def test_a_recording_that_cannot_be_removed_keeps_its_session(
    pack: Pack, tmp_path: Path, address: str, store: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What could not be removed is said, and is still known to the store, so that it can be tried again."""
    keep = DataDir(tmp_path)
    record_two_sessions(pack, keep, address)
    _set(store, 1)

    def forbidden(path: Path, **_: bool) -> None:
        raise PermissionError(13, "Permission denied", str(path))

    with monkeypatch.context() as patched:
        patched.setattr(Path, "unlink", forbidden)
        old = prune(store, keep, BEGAN_UTC + YEAR_S, allow_most=True)
    assert len(old.not_removable) == 2
    assert _count(store) == 2
    assert prune(store, keep, BEGAN_UTC + YEAR_S, allow_most=True).not_removable == ()
    assert (_count(store), list_recordings(keep.recordings)) == (0, [])


def test_a_session_that_runs_is_never_old(full: Engine) -> None:
    """A session that has not ended stays, however long ago it began."""
    with write_transaction(full) as connection:
        connection.execute(
            update(schema.session).where(schema.session.c.name == "Session 1").values(ending="")
        )
    _set(full, 1)
    prune(full, None, FIRST_UTC + 20 * YEAR_S, allow_most=True)
    with read_transaction(full) as connection:
        assert connection.execute(select(schema.session.c.name)).scalars().all() == ["Session 1"]


def test_recordings_go_with_their_sessions(pack: Pack, tmp_path: Path, address: str, store: Engine) -> None:
    """The recordings of sessions that are removed are removed too."""
    keep = DataDir(tmp_path)
    record_two_sessions(pack, keep, address)
    old = BEGAN_UTC - YEAR_S
    with write_transaction(store) as connection:
        connection.execute(
            update(schema.session)
            .where(schema.session.c.name == "Session 1")
            .values(began_utc=old, last_utc=old, ended_utc=old)
        )
        set_retention_days(connection, 30)
    with read_transaction(store) as connection:
        assert len(find_expired(connection, keep, BEGAN_UTC).recordings) == 1
    prune(store, keep, BEGAN_UTC)
    assert len(list_recordings(keep.recordings)) == 1
    assert _count(store) == 1
