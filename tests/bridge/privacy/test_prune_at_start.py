"""Tests of pruning when a watch starts."""

from __future__ import annotations

from pathlib import Path

import pytest
import structlog
from sqlalchemy import Engine, select
from structlog.testing import capture_logs

from bridge.privacy.prune_at_start import pruning
from bridge.privacy.retention import DAY_S, set_retention_days
from bridge.runtime.data_dir import DataDir
from bridge.store import schema
from bridge.store.database import open_store, read_transaction, write_transaction
from bridge.store.persistence import PersistOptions
from tests.bridge.trends.sample_store import FIRST_UTC, fill, sample_rows


@pytest.fixture
def options(tmp_path: Path) -> PersistOptions:
    """A data directory whose store has sixty sessions in 330 days and keeps them for 200."""
    data_dir = DataDir(tmp_path)
    data_dir.create()
    options = PersistOptions(data_dir, store_url=f"sqlite:///{data_dir.store}")
    engine = open_store(options.store_url)
    fill(engine, sample_rows(60))
    with write_transaction(engine) as connection:
        set_retention_days(connection, 200)
    engine.dispose()
    structlog.reset_defaults()
    return options


def _session_ends(store_url: str) -> list[float]:
    engine: Engine = open_store(store_url)
    with read_transaction(engine) as connection:
        ends = list(connection.execute(select(schema.session.c.ended_utc)).scalars())
    engine.dispose()
    return ends


async def test_expired_sessions_are_removed_at_the_start(
    options: PersistOptions, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After the block expired sessions are removed, and the log says how many."""
    now_utc = FIRST_UTC + 330 * DAY_S
    monkeypatch.setattr("bridge.privacy.prune_at_start.time.time", lambda: now_utc)
    with capture_logs() as logs:
        async with pruning(options):
            pass
    ends = _session_ends(options.store_url)
    assert 0 < len(ends) < 60
    assert min(ends) >= now_utc - 200 * DAY_S
    assert [(entry["event"], entry["sessions"]) for entry in logs] == [("pruned", 60 - len(ends))]


async def test_a_clock_in_the_far_future_removes_nothing(
    options: PersistOptions, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If more sessions would be removed than stay, nothing is removed, and the log says why."""
    monkeypatch.setattr("bridge.privacy.prune_at_start.time.time", lambda: FIRST_UTC + 9999 * DAY_S)
    with capture_logs() as logs:
        async with pruning(options):
            pass
    assert len(_session_ends(options.store_url)) == 60
    assert [entry["event"] for entry in logs] == ["not pruned"]
    assert "more sessions would be removed than stay" in logs[0]["why"]


async def test_a_playback_removes_nothing(options: PersistOptions, monkeypatch: pytest.MonkeyPatch) -> None:
    """A watch that only plays recordings does not open the store."""
    monkeypatch.setattr("bridge.privacy.prune_at_start.time.time", lambda: FIRST_UTC + 330 * DAY_S)
    with capture_logs() as logs:
        async with pruning(options, enabled=False):
            pass
    assert (len(_session_ends(options.store_url)), logs) == (60, [])


async def test_a_store_that_cannot_be_opened_is_logged(tmp_path: Path) -> None:
    """If the store cannot be opened, the watch continues and the log says why."""
    structlog.reset_defaults()
    options = PersistOptions(DataDir(tmp_path), store_url=f"sqlite:///{tmp_path}/missing/store.sqlite")
    with capture_logs() as logs:
        async with pruning(options):
            pass
    assert [entry["event"] for entry in logs] == ["not pruned"]
