"""Tests that events are on disk before they are published."""

from __future__ import annotations

import asyncio
import errno
import os
from pathlib import Path

import msgspec
import pytest
from sqlalchemy import select

from bridge.runtime.data_dir import DataDir
from bridge.session.event_bus import StepEvents
from bridge.session.session_events import KINDS, SessionEvent, StoreReachable, StoreUnreachable
from bridge.store import schema, spool_records
from bridge.store.database import open_store, read_transaction
from bridge.store.persistence import PersistOptions, persist_sessions
from bridge.store.session_store import store_sessions
from bridge.store.spool import spool_paths
from rules.judge.events import FindingOpened, Notice
from rules.packs.model import Pack
from tests.bridge.builders import device_on_memory_link, printed_text, text_console
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


class FullDisk:
    """A disk of the spools that is full from the start until `full` is false."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Replace the writing of spools."""
        self.full, self._real = True, os.write
        monkeypatch.setattr("bridge.store.spool.os.write", self._write)

    def _write(self, file: int, data: bytes) -> int:
        if self.full:
            raise OSError(errno.ENOSPC, "No space left on device")
        return self._real(file, data)


async def test_what_a_full_disk_refuses_to_the_end_is_given_as_json(
    pack: Pack, tmp_path: Path, address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At the end of a watch on a full disk nothing is said to wait on it: every record is given, and none is stored."""
    FullDisk(monkeypatch)
    device, _ = device_on_memory_link(pack, ManualClock())
    async with store_sessions([device], tmp_path, address, recorded=False) as (writer,):
        device.session.add_remark("unwritten", "instructor")
        await asyncio.sleep(0)
    lost = [msgspec.json.decode(each) for each in writer.lost]
    assert {each["session"] for each in lost} == {device.session.uuid}
    assert [each["record"]["body"]["type"] for each in lost] == ["start", "remark", "closed"]
    assert lost[1]["record"]["body"]["remark"]["text"] == "unwritten"
    assert "3 records could not be written to the disk and follow on standard error" in writer.status_text


async def test_the_end_of_a_watch_says_what_is_lost(
    pack: Pack, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The records are on standard error, one in a line, and the outcome has their number."""
    FullDisk(monkeypatch)
    data_dir = DataDir(tmp_path)
    device, _ = device_on_memory_link(pack, ManualClock())
    options, console = PersistOptions(data_dir, 1.0, f"sqlite:///{data_dir.store}"), text_console()
    async with persist_sessions([device], options, console) as outcome:
        device.session.add_remark("unwritten", "instructor")
        await asyncio.sleep(0)
    lines = capsys.readouterr().err.splitlines()
    assert outcome.lost == 3
    assert [msgspec.json.decode(each)["record"]["number"] for each in lines[-3:]] == [1, 2, 3]
    assert "3 records could not be written" in " ".join(printed_text(console).split())


def test_the_spool_of_an_earlier_session_is_written_when_there_is_room(
    spooled: StoreHarness, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A session that ended on a full disk is written as soon as the disk accepts it, and shown until then."""
    disk = FullDisk(monkeypatch)
    spooled.fly_push_back()
    spooled.request("start_session", "Second")
    spooled.advance(1.0)
    assert "in memory only" in spooled.session_store.problem
    disk.full = False
    spooled.advance(1.0)
    assert spooled.session_store.problem == ""
    assert spooled.session_store.close() == []
    spooled.writer.finish()
    spools = spool_paths(spooled.folder)
    assert spools == []


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
