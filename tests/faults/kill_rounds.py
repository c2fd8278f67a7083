"""Start and kill a watch again and again, and compare the store with the published events.

Takes: a folder, the address of a store.  Gives: the published events, and comparisons.
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

from bridge.recording.reader import open_recording
from bridge.recording.recording_budget import list_recordings
from bridge.runtime.data_dir import DataDir
from bridge.store import schema
from bridge.store.database import open_store, read_transaction
from bridge.store.store_writer import StoreWriter
from rules.faults import InputFaults
from tests.faults import watch_process
from tests.faults.watch_process import PublishedRecord, run_until_killed

ROUNDS = 20
"""Rounds of a test; `--examples-times=5` makes a hundred of them."""
LONG_EVERY = 10
"""One round in this many lasts over a second, so that its samples reach the disk."""
FIRST_WITHIN_S = 30.0


def _start(data_dir: DataDir, address: str, published_path: Path) -> ForkServerProcess:
    """Start a watch in a separate process, forked from one that has loaded everything."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload([watch_process.__name__])
    process = context.Process(
        target=run_until_killed, args=(str(data_dir.folder), address, str(published_path)), daemon=True
    )
    process.start()
    return process


def _wait_for_first(published_path: Path, process: ForkServerProcess) -> None:
    """Wait for the first published event."""
    deadline_s = time.monotonic() + FIRST_WITHIN_S
    while not (published_path.is_file() and published_path.stat().st_size):
        assert process.is_alive(), f"the watch ended by itself with {process.exitcode}"
        assert time.monotonic() < deadline_s, "the watch published nothing"
        process.join(0.005)


def kill_rounds(
    folder: Path,
    address: str,
    chance: random.Random,
    rounds: int,
    meanwhile: Callable[[ForkServerProcess], None] = lambda _: None,
) -> list[PublishedRecord]:
    """Start a watch and kill it at a random moment, so many times; return the published events of all rounds."""
    data_dir = DataDir(folder)
    data_dir.create()
    published: list[PublishedRecord] = []
    for number in range(rounds):
        published_path = folder / f"published-{number}"
        process = _start(data_dir, address, published_path)
        _wait_for_first(published_path, process)
        process.join(chance.uniform(0.0, 0.25) if number % LONG_EVERY else chance.uniform(2.0, 2.5))
        meanwhile(process)
        assert process.pid is not None
        os.kill(process.pid, signal.SIGKILL)
        process.join()
        assert process.exitcode == -signal.SIGKILL
        complete_lines = published_path.read_bytes().rpartition(b"\n")[0].splitlines()
        published += [msgspec.json.decode(line, type=PublishedRecord) for line in complete_lines]
    writer = StoreWriter(data_dir.spool, address)
    writer.finish()
    assert (writer.problem, writer.refused_count) == ("", 0)
    assert list(data_dir.spool.iterdir()) == []
    return published


def compare(address: str, published: list[PublishedRecord], rounds: int) -> None:
    """Check that every published event of so many rounds is in the store once."""
    engine = open_store(address)
    with read_transaction(engine) as connection:
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
    assert [ending for _, ending in sessions] == ["broken off"] * rounds
    stored = {(row.session, row.number): row for row in found}
    findings = [each for each in published if each.kind == "finding"]
    assert len(findings) > 5 * rounds
    lost = [each for each in findings if (each.session, each.number) not in stored]
    assert lost == []
    for each in findings:
        row = stored[each.session, each.number]
        assert row.sentence == each.sentence
        assert row.closed_s is not None or not each.closed
    _assert_no_extra(found, findings)
    stored_notices, published_notices = (
        Counter(map(tuple, noticed)),
        Counter((each.session, each.sentence) for each in published if not each.number),
    )
    assert published_notices - stored_notices == Counter()
    assert sum(stored_notices.values()) - sum(published_notices.values()) <= 5 * rounds


def _assert_no_extra(found: Sequence[Any], published: list[PublishedRecord]) -> None:
    """Check that findings are numbered without gaps, and at most one step of the judge beyond the published ones."""
    numbers: dict[str, set[int]] = {}
    for row in found:
        numbers.setdefault(row.session, set()).add(row.number)
    last = Counter[str]()
    for each in published:
        last[each.session] = max(last[each.session], each.number)
    for session, has in numbers.items():
        assert has == set(range(1, len(has) + 1))
        assert len(has) - last[session] <= 4


def recordings_are_readable(folder: Path, rounds: int) -> None:
    """Check that every recording can be read up to its end, or is too short to have a header."""
    recordings = list_recordings(DataDir(folder).recordings)
    read = 0
    for each in recordings:
        try:
            recording = open_recording(each.parts[0])
        except InputFaults:
            continue  # killed before its head was on the disk
        read_messages = sum(1 for _ in recording.messages())
        read += any(True for _ in recording.items())
        assert _messages_by_mcap_library(each.parts[0]) >= read_messages
    assert read >= rounds // LONG_EVERY - 1


def _messages_by_mcap_library(path: Path) -> int:
    """Count the messages that MCAP's own library reads from a file, up to its fault or end."""
    found = 0
    with path.open("rb") as stream, suppress(McapError, EOFError):
        for record in StreamReader(stream).records:
            found += isinstance(record, Message)
    return found
