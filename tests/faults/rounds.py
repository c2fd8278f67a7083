"""A hundred rounds in which a watch is started and killed, and what must be so afterwards.

Takes: a folder, the address of a store.  Gives: what was told, and comparisons.
"""

from __future__ import annotations

import multiprocessing
import os
import random
import signal
import time
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import suppress
from multiprocessing.context import ForkServerProcess
from pathlib import Path
from typing import Any

import msgspec
from mcap.exceptions import McapError
from mcap.records import Message
from mcap.stream_reader import StreamReader
from sqlalchemy import func, select

from bridge.keep import Keep
from bridge.record.reader import open_recording
from bridge.record.shelf import recordings
from bridge.store import schema
from bridge.store.drain import Drain
from bridge.store.opening import open_store, reading
from rules.faults import InputFaults
from tests.faults import flying
from tests.faults.flying import Heard, fly

ROUNDS = 100
LONG = 40
"""Every so many rounds one is so long that its samples are on the disk, which they are after a second."""
FIRST_WITHIN_S = 30.0


def _start(keep: Keep, address: str, told: Path) -> ForkServerProcess:
    """A watch in a process of its own, forked from one that has loaded everything."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([flying.__name__])
    process = context.Process(target=fly, args=(str(keep.folder), address, str(told)), daemon=True)
    process.start()
    return process


def _until_told(told: Path, process: ForkServerProcess) -> None:
    """Wait until it has told something."""
    over_s = time.monotonic() + FIRST_WITHIN_S
    while not (told.is_file() and told.stat().st_size):
        assert process.is_alive(), f"the watch ended by itself with {process.exitcode}"
        assert time.monotonic() < over_s, "the watch tells nothing"
        process.join(0.005)


def rounds(
    folder: Path,
    address: str,
    chance: random.Random,
    meanwhile: Callable[[ForkServerProcess], None] = lambda _: None,
) -> list[Heard]:
    """Start a watch and kill it at a random moment, a hundred times; what was told in all of them."""
    keep = Keep(folder)
    keep.make()
    heard: list[Heard] = []
    for number in range(ROUNDS):
        told = folder / f"told-{number}"
        process = _start(keep, address, told)
        _until_told(told, process)
        process.join(chance.uniform(0.0, 0.25) if number % LONG else chance.uniform(2.0, 2.5))
        meanwhile(process)
        assert process.pid is not None
        os.kill(process.pid, signal.SIGKILL)
        process.join()
        assert process.exitcode == -signal.SIGKILL
        whole = told.read_bytes().rpartition(b"\n")[0].splitlines()
        heard += [msgspec.json.decode(line, type=Heard) for line in whole]
    drain = Drain(keep.spool, address)
    drain.finish()
    assert (drain.trouble, drain.refused) == ("", 0)
    assert list(keep.spool.iterdir()) == []
    return heard


def compare(address: str, heard: list[Heard]) -> None:
    """Everything that was told is in the store, once."""
    engine = open_store(address)
    with reading(engine) as connection:
        sessions = connection.execute(select(schema.session.c.id, schema.session.c.ending)).all()
        found = connection.execute(select(schema.finding)).all()
        noticed = connection.execute(select(schema.notice.c.session, schema.notice.c.sentence)).all()
        doubled = (
            select(func.count())
            .select_from(schema.notice)
            .group_by(schema.notice.c.session, schema.notice.c.sim_s, schema.notice.c.item)
            .having(func.count() > 1)
        )
        assert connection.execute(doubled).all() == []
    engine.dispose()
    assert [ending for _, ending in sessions] == ["broken off"] * ROUNDS
    stored = {(row.session, row.number): row for row in found}
    told = [each for each in heard if each.what == "finding"]
    assert len(told) > 5 * ROUNDS
    lost = [each for each in told if (each.session, each.number) not in stored]
    assert lost == []
    for each in told:
        row = stored[each.session, each.number]
        assert row.sentence == each.sentence
        assert row.closed_s is not None or not each.closed
    _none_beyond(found, told)
    kept, said = Counter(map(tuple, noticed)), Counter((h.session, h.sentence) for h in heard if not h.number)
    assert said - kept == Counter()
    assert sum(kept.values()) - sum(said.values()) <= 5 * ROUNDS


def _none_beyond(found: Sequence[Any], told: list[Heard]) -> None:
    """The findings of a session are numbered without gaps, and go beyond what was told by one step of the judging."""
    numbers: dict[str, set[int]] = {}
    for row in found:
        numbers.setdefault(row.session, set()).add(row.number)
    last = Counter[str]()
    for each in told:
        last[each.session] = max(last[each.session], each.number)
    for session, has in numbers.items():
        assert has == set(range(1, len(has) + 1))
        assert len(has) - last[session] <= 4


def recordings_are_readable(folder: Path) -> None:
    """Every recording is read as far as it goes, or was begun in the last moment; none is an exception."""
    kept = recordings(Keep(folder).recordings)
    read = 0
    for each in kept:
        try:
            recording = open_recording(each.parts[0])
        except InputFaults:
            continue  # killed before its head was on the disk
        ours = sum(1 for _ in recording.rows())
        read += any(True for _ in recording.lines())
        assert _others_read(each.parts[0]) >= ours
    assert read >= ROUNDS // LONG - 1


def _others_read(path: Path) -> int:
    """How many messages MCAP's own library reads of a file, up to where it breaks off."""
    found = 0
    with path.open("rb") as stream, suppress(McapError, EOFError):
        for record in StreamReader(stream).records:
            found += isinstance(record, Message)
    return found
