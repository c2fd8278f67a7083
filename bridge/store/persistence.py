"""Resolves the options of persistence, and records and stores sessions while devices are watched.

Takes: options and devices.  Gives: a context manager in which sessions are recorded and stored.
"""

from __future__ import annotations

import sys
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass
from typing import NamedTuple

from rich.console import Console

from bridge.recording.device_recording import record_devices
from bridge.recording.replay_receiver import ReplayRunner
from bridge.recording.writer import RecordingLimits
from bridge.runtime.data_dir import DataDir, resolve_data_dir
from bridge.runtime.device import Device
from bridge.store.database import store_title, store_url
from bridge.store.session_store import store_sessions

DEFAULT_RECORDINGS_LIMIT_GB = RecordingLimits().budget_bytes / 1e9


class PersistOptions(NamedTuple):
    """The data directory (None: nothing is recorded or stored), the limit of recordings, and the address of the store."""

    data_dir: DataDir | None
    recordings_limit_gb: float = DEFAULT_RECORDINGS_LIMIT_GB
    store_url: str = ""


def resolve_persist_options(
    data_dir: str, recordings_limit_gb: float, store: str, *, default: str | None = None
) -> PersistOptions:
    """Resolve the options.

    Args:
        data_dir: A folder, `off`, or ''.
        recordings_limit_gb: The limit of all recordings together, in units of 1 000 000 000 bytes.
        store: The address of a database, or ''.
        default: The folder if neither option nor environment names one.

    Raises:
        InputFaults: The folder cannot be created, or the address is wrong.
    """
    directory = resolve_data_dir(data_dir, default=default)
    return PersistOptions(
        directory, recordings_limit_gb, store_url(directory, store) if directory is not None else ""
    )


@dataclass(slots=True)
class PersistOutcome:
    """The number of records that neither the disk nor the store has; known at the end."""

    lost: int = 0


@asynccontextmanager
async def persist_sessions(
    devices: Sequence[Device], options: PersistOptions, console: Console
) -> AsyncIterator[PersistOutcome]:
    """Record and store every session while the block runs, except playbacks.

    Args:
        devices: The devices.
        options: The options.
        console: The console for lines on each recording and the store at the end.

    Yields:
        The outcome; records that are lost are written to standard error as JSON, one in a line.
    """
    outcome = PersistOutcome()
    live = [device for device in devices if not isinstance(device.runner, ReplayRunner)]
    directory, limits = (
        options.data_dir if live else None,
        RecordingLimits(budget_bytes=round(options.recordings_limit_gb * 1e9)),
    )
    spool, recordings = (directory.spool, directory.recordings) if directory is not None else (None, None)
    lines: list[str] = []
    async with (
        store_sessions(live, spool, options.store_url, recorded=True) as writers,
        record_devices(live, recordings, limits) as recorders,
    ):
        try:
            yield outcome
        finally:
            lines += [f"RECORDING {recorder.status_text}" for recorder in recorders]
    lines += [f"STORE {store_title(options.store_url)}: {writer.status_text}" for writer in writers]
    for line in lines:
        with suppress(BrokenPipeError):  # the output was closed
            console.print(line, soft_wrap=True)
    lost = [record for writer in writers for record in writer.lost]
    outcome.lost = len(lost)
    with suppress(OSError):
        for record in lost:
            sys.stderr.write(record.decode() + "\n")
