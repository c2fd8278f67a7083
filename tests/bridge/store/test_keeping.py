"""Kept before it is told."""

from __future__ import annotations

import asyncio
import errno
import os
from pathlib import Path

import pytest
from sqlalchemy import select

from bridge.notes import Told
from bridge.store import kept, schema
from bridge.store.keeping import stored
from bridge.store.opening import open_store, reading
from bridge.store.spool import spools
from rules.judge.entries import FindingOpened, Notice
from rules.packs.model import Pack
from tests.bridge.making import rig_of
from tests.bridge.store.making import Desk
from tests.contract.until import Clock


def test_a_finding_is_on_the_disk_before_anybody_is_told(spooled: Desk) -> None:
    """When a listener hears of a finding or notice, the spool has it already."""
    heard: list[tuple[Told, bool]] = []

    def listener(told: Told) -> None:
        on_disk = [line.what for line in spooled.lines()]
        if isinstance(told, FindingOpened):
            heard.append(
                (told, any(isinstance(w, kept.Found) and w.finding == told.finding for w in on_disk))
            )
        if isinstance(told, Notice):
            heard.append((told, any(isinstance(w, kept.Noticed) and w.notice == told for w in on_disk)))

    spooled.rig.listen(listener)
    spooled.push()
    assert len(heard) >= 4
    assert all(there for _, there in heard)


def test_the_disk_is_waited_for_once_a_step(spooled: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """What one frame brings about goes to the disk together; a frame that brings nothing about does not."""
    waits = 0
    real = os.fsync

    def counted(file: int) -> None:
        nonlocal waits
        waits += 1
        real(file)

    monkeypatch.setattr("bridge.store.spool.os.fsync", counted)
    spooled.send(0.0)
    spooled.wait(0.1)
    first = waits
    for tenth in range(1, 50):
        spooled.send(tenth / 10)
        spooled.wait(0.1)
    assert (first, waits) == (1, first)


def test_a_full_disk_is_told_and_does_not_stop_the_telling(
    spooled: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Findings are told though the disk is full, the crew is told of that once, and all is kept when there is room."""
    real, full = os.write, True

    def write(file: int, data: bytes) -> int:
        if full:
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(file, data)

    monkeypatch.setattr("bridge.store.spool.os.write", write)
    spooled.push()
    assert len(spooled.found()) >= 2
    assert [c.change for c in spooled.changes()] == ["not stored now"]
    assert "kept in memory only: No space left on device" in spooled.changes()[0].text
    full = False
    spooled.wait(1.0)
    assert [c.change for c in spooled.changes()] == ["not stored now", "stored again"]
    numbers = {line.what.finding.number for line in spooled.lines() if isinstance(line.what, kept.Found)}
    assert numbers == set(spooled.found())


async def test_a_watch_stores_what_it_sees(pack: Pack, tmp_path: Path, address: str) -> None:
    """At the end of the block everything is in the store, and no spool is left."""
    rig, _ = rig_of(pack, Clock())
    async with stored([rig], tmp_path, address, recorded=False) as (drain,):
        rig.session.remark("kept", "instructor")
        await asyncio.sleep(0)
    assert drain.words == "all is in the store"
    assert spools(tmp_path) == []
    engine = open_store(address)
    with reading(engine) as connection:
        assert connection.execute(select(schema.remark.c.text)).scalars().all() == ["kept"]
        assert connection.execute(select(schema.session.c.ending)).scalar() == "ended"
    engine.dispose()


async def test_what_another_watch_left_is_stored_by_the_next(
    pack: Pack, tmp_path: Path, address: str
) -> None:
    """The spool of a program that was killed goes into the store when the next watch begins."""
    left = Desk(pack, tmp_path / "spool", "sqlite:////nowhere/store.sqlite")
    left.push()
    assert left.kept._keeper is not None
    left.kept._keeper.spool._lock.release()  # as the system does when the process ends
    rig, _ = rig_of(pack, Clock())
    async with stored([rig], tmp_path / "spool", address, recorded=False):
        await asyncio.sleep(0)
    engine = open_store(address)
    with reading(engine) as connection:
        endings = connection.execute(select(schema.session.c.id, schema.session.c.ending)).all()
        found = connection.execute(select(schema.finding.c.number)).all()
    engine.dispose()
    assert dict(endings) == {left.rig.session.uuid: "broken off", rig.session.uuid: "ended"}
    assert len(found) == len(left.found())


async def test_nothing_is_kept_where_nothing_is_to_be(pack: Pack) -> None:
    """Without a folder there is no keeper."""
    rig, _ = rig_of(pack, Clock())
    async with stored([rig], None, "", recorded=False) as drains:
        assert drains == []
        assert rig.session.keepers == []
