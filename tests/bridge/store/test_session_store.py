"""Kept before it is told."""

from __future__ import annotations

import asyncio
import errno
import os
from pathlib import Path

import pytest
from sqlalchemy import select

from bridge.session.session_events import SessionEvent
from bridge.store import schema, spool_records
from bridge.store.database import open_store, read_transaction
from bridge.store.session_store import store_sessions
from bridge.store.spool import spool_paths
from rules.judge.events import FindingOpened, Notice
from rules.packs.model import Pack
from tests.bridge.builders import device_on_memory_link
from tests.bridge.store.store_harness import StoreHarness
from tests.contract.waiting import ManualClock


def test_a_finding_is_on_the_disk_before_anybody_is_told(spooled: StoreHarness) -> None:
    """When a listener hears of a finding or notice, the spool has it already."""
    heard: list[tuple[SessionEvent, bool]] = []

    def listener(told: SessionEvent) -> None:
        on_disk = [line.body for line in spooled.spool_records()]
        if isinstance(told, FindingOpened):
            heard.append(
                (
                    told,
                    any(
                        isinstance(w, spool_records.FindingRecord) and w.finding == told.finding
                        for w in on_disk
                    ),
                )
            )
        if isinstance(told, Notice):
            heard.append(
                (told, any(isinstance(w, spool_records.NoticeRecord) and w.notice == told for w in on_disk))
            )

    spooled.device.add_listener(listener)
    spooled.fly_push_back()
    assert len(heard) >= 4
    assert all(there for _, there in heard)


def test_the_disk_is_waited_for_once_a_step(spooled: StoreHarness, monkeypatch: pytest.MonkeyPatch) -> None:
    """What one frame brings about goes to the disk together; a frame that brings nothing about does not."""
    waits = 0
    real = os.fsync

    def counted(file: int) -> None:
        nonlocal waits
        waits += 1
        real(file)

    monkeypatch.setattr("bridge.store.spool.os.fsync", counted)
    spooled.send(0.0)
    spooled.advance(0.1)
    first = waits
    for tenth in range(1, 50):
        spooled.send(tenth / 10)
        spooled.advance(0.1)
    assert (first, waits) == (1, first)


def test_a_full_disk_is_told_and_does_not_stop_the_telling(
    spooled: StoreHarness, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Findings are told though the disk is full, the crew is told of that once, and all is kept when there is room."""
    real, full = os.write, True

    def write(file: int, data: bytes) -> int:
        if full:
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(file, data)

    monkeypatch.setattr("bridge.store.spool.os.write", write)
    spooled.fly_push_back()
    assert len(spooled.findings()) >= 2
    assert [c.change for c in spooled.session_events()] == ["not stored now"]
    assert "kept in memory only: No space left on device" in spooled.session_events()[0].text
    full = False
    spooled.advance(1.0)
    assert [c.change for c in spooled.session_events()] == ["not stored now", "stored again"]
    numbers = {
        line.body.finding.number
        for line in spooled.spool_records()
        if isinstance(line.body, spool_records.FindingRecord)
    }
    assert numbers == set(spooled.findings())


async def test_a_watch_stores_what_it_sees(pack: Pack, tmp_path: Path, address: str) -> None:
    """At the end of the block everything is in the store, and no spool is left."""
    rig, _ = device_on_memory_link(pack, ManualClock())
    async with store_sessions([rig], tmp_path, address, recorded=False) as (drain,):
        rig.session.add_remark("kept", "instructor")
        await asyncio.sleep(0)
    assert drain.status_text == "all is in the store"
    assert spool_paths(tmp_path) == []
    engine = open_store(address)
    with read_transaction(engine) as connection:
        assert connection.execute(select(schema.remark.c.text)).scalars().all() == ["kept"]
        assert connection.execute(select(schema.session.c.ending)).scalar() == "ended"
    engine.dispose()


async def test_what_another_watch_left_is_stored_by_the_next(
    pack: Pack, tmp_path: Path, address: str
) -> None:
    """The spool of a program that was killed goes into the store when the next watch begins."""
    left = StoreHarness(pack, tmp_path / "spool", "sqlite:////nowhere/store.sqlite")
    left.fly_push_back()
    assert left.session_store._spooler is not None
    left.session_store._spooler.spool._lock.release()  # as the system does when the process ends
    rig, _ = device_on_memory_link(pack, ManualClock())
    async with store_sessions([rig], tmp_path / "spool", address, recorded=False):
        await asyncio.sleep(0)
    engine = open_store(address)
    with read_transaction(engine) as connection:
        endings = connection.execute(select(schema.session.c.id, schema.session.c.ending)).all()
        found = connection.execute(select(schema.finding.c.number)).all()
    engine.dispose()
    assert dict(endings) == {left.device.session.uuid: "broken off", rig.session.uuid: "ended"}
    assert len(found) == len(left.findings())


async def test_nothing_is_kept_where_nothing_is_to_be(pack: Pack) -> None:
    """Without a folder there is no keeper."""
    rig, _ = device_on_memory_link(pack, ManualClock())
    async with store_sessions([rig], None, "", recorded=False) as drains:
        assert drains == []
        assert rig.session.event_writers == []
