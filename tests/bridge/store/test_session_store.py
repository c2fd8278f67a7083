"""Tests that events are on disk before they are published."""

from __future__ import annotations

import asyncio
import errno
import os
from pathlib import Path

import pytest
from sqlalchemy import select

from bridge.session.event_bus import StepEvents
from bridge.session.session_events import KINDS, SessionEvent, StoreReachable, StoreUnreachable
from bridge.store import schema, spool_records
from bridge.store.database import open_store, read_transaction
from bridge.store.session_store import store_sessions
from bridge.store.spool import spool_paths
from rules.judge.events import FindingOpened, Notice
from rules.packs.model import Pack
from tests.bridge.builders import device_on_memory_link
from tests.bridge.store.store_harness import StoreHarness
from tests.contract.waiting import ManualClock


def test_a_finding_is_on_disk_before_it_is_published(spooled: StoreHarness) -> None:
    """When another subscriber receives a finding or notice, the spool has it."""
    seen: list[tuple[SessionEvent, bool]] = []

    def subscriber(event: SessionEvent) -> None:
        on_disk = [record.body for record in spooled.spool_records()]
        if isinstance(event, FindingOpened):
            seen.append(
                (
                    event,
                    any(
                        isinstance(w, spool_records.FindingRecord) and w.finding == event.finding
                        for w in on_disk
                    ),
                )
            )
        if isinstance(event, Notice):
            seen.append(
                (event, any(isinstance(w, spool_records.NoticeRecord) and w.notice == event for w in on_disk))
            )

    spooled.device.bus.subscribe(subscriber, *KINDS)
    spooled.fly_push_back()
    assert len(seen) >= 4
    assert all(there for _, there in seen)


def test_one_sync_for_each_frame_with_events(spooled: StoreHarness, monkeypatch: pytest.MonkeyPatch) -> None:
    """The events of one frame are synchronised to disk together; a frame without events does not wait for the disk."""
    syncs = 0
    real = os.fsync

    def counted(file: int) -> None:
        nonlocal syncs
        syncs += 1
        real(file)

    monkeypatch.setattr("bridge.store.spool.os.fsync", counted)
    spooled.send(0.0)
    spooled.advance(0.1)
    first = syncs
    for tenth in range(1, 50):
        spooled.send(tenth / 10)
        spooled.advance(0.1)
    assert (first, syncs) == (1, first)


def test_a_full_disk_does_not_stop_publishing(spooled: StoreHarness, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a full disk findings are published, the problem once too, and all is written when there is room."""
    real, full = os.write, True

    def write(file: int, data: bytes) -> int:
        if full:
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(file, data)

    monkeypatch.setattr("bridge.store.spool.os.write", write)
    spooled.fly_push_back()
    assert len(spooled.findings()) >= 2
    (unreachable,) = spooled.session_changes()
    assert isinstance(unreachable, StoreUnreachable)
    assert "in memory only: No space left on device" in unreachable.problem
    full = False
    spooled.advance(1.0)
    assert [type(change) for change in spooled.session_changes()] == [StoreUnreachable, StoreReachable]
    numbers = {
        record.body.finding.number
        for record in spooled.spool_records()
        if isinstance(record.body, spool_records.FindingRecord)
    }
    assert numbers == set(spooled.findings())


async def test_a_watch_stores_its_session(pack: Pack, tmp_path: Path, address: str) -> None:
    """At the end of the block everything is in the store, and no spool is left."""
    device, _ = device_on_memory_link(pack, ManualClock())
    async with store_sessions([device], tmp_path, address, recorded=False) as (writer,):
        device.session.add_remark("kept", "instructor")
        await asyncio.sleep(0)
    assert writer.status_text == "up to date"
    assert spool_paths(tmp_path) == []
    engine = open_store(address)
    with read_transaction(engine) as connection:
        assert connection.execute(select(schema.remark.c.text)).scalars().all() == ["kept"]
        assert connection.execute(select(schema.session.c.ending)).scalar() == "ended"
    engine.dispose()


async def test_the_spool_of_a_killed_watch_is_stored(pack: Pack, tmp_path: Path, address: str) -> None:
    """The spool of a killed program is stored by the next watch."""
    killed = StoreHarness(pack, tmp_path / "spool", "sqlite:////nowhere/store.sqlite")
    killed.fly_push_back()
    assert killed.session_store._spooler is not None
    killed.session_store._spooler.spool._lock.release()  # as the system does when the process ends
    device, _ = device_on_memory_link(pack, ManualClock())
    async with store_sessions([device], tmp_path / "spool", address, recorded=False):
        await asyncio.sleep(0)
    engine = open_store(address)
    with read_transaction(engine) as connection:
        endings = connection.execute(select(schema.session.c.id, schema.session.c.ending)).all()
        found = connection.execute(select(schema.finding.c.number)).all()
    engine.dispose()
    assert dict(endings) == {killed.device.session.uuid: "broken off", device.session.uuid: "ended"}
    assert len(found) == len(killed.findings())


async def test_nothing_is_stored_without_a_folder(pack: Pack) -> None:
    """Without a folder nothing is stored."""
    device, _ = device_on_memory_link(pack, ManualClock())
    async with store_sessions([device], None, "", recorded=False) as writers:
        assert writers == []
        assert device.bus.subscribers(StepEvents) == []
