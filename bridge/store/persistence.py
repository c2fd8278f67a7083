"""The options that say what is kept, and the recording while a flight is watched.

Takes: options and rigs.  Gives: a block of time in which sessions are recorded, and lines on where.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager, suppress
from typing import NamedTuple

from rich.console import Console

from bridge.recording.device_recording import record_devices
from bridge.recording.replay_receiver import ReplayRunner
from bridge.recording.writer import RecordingLimits
from bridge.runtime.data_dir import DataDir, resolve_data_dir
from bridge.runtime.device import Device
from bridge.store.database import redact_password, store_url
from bridge.store.session_store import store_sessions

DEFAULT_RECORDINGS_LIMIT_GB = RecordingLimits().budget_bytes / 1e9


class PersistOptions(NamedTuple):
    """What is kept, and where: a folder (None keeps nothing), what recordings may take in it, the store's address."""

    data_dir: DataDir | None
    recordings_limit_gb: float = DEFAULT_RECORDINGS_LIMIT_GB
    store_url: str = ""


def resolve_persist_options(
    data_dir: str, recordings_limit_gb: float, store: str, *, default: str | None = None
) -> PersistOptions:
    """What these options say.

    Args:
        data_dir: a folder, `off`, or ''.
        recordings_limit_gb: what all recordings may take, in units of 1 000 000 000 bytes.
        store: the address of a database, or ''.
        default: the folder where neither option nor environment names one.

    Raises:
        InputFaults: a folder cannot be made, or an address is none.
    """
    kept = resolve_data_dir(data_dir, default=default)
    return PersistOptions(kept, recordings_limit_gb, store_url(kept, store) if kept is not None else "")


@asynccontextmanager
async def persist_sessions(
    devices: Sequence[Device], options: PersistOptions, console: Console
) -> AsyncIterator[None]:
    """Record every session and store it while the block runs; what is played from a recording is kept already.

    Args:
        devices: the devices.
        options: what is kept, and where.
        console: where lines on each recording and the store go at the end.
    """
    live = [rig for rig in devices if not isinstance(rig.runner, ReplayRunner)]
    keep, limits = (
        options.data_dir if live else None,
        RecordingLimits(budget_bytes=round(options.recordings_limit_gb * 1e9)),
    )
    spool, recordings = (keep.spool, keep.recordings) if keep is not None else (None, None)
    said: list[str] = []
    async with (
        store_sessions(live, spool, options.store_url, recorded=True) as drains,
        record_devices(live, recordings, limits) as recorders,
    ):
        try:
            yield
        finally:
            said += [f"RECORDING {recorder.status_text}" for recorder in recorders]
    said += [f"STORE {redact_password(options.store_url)}: {drain.status_text}" for drain in drains]
    for words in said:
        with suppress(BrokenPipeError):  # nobody reads
            console.print(words, soft_wrap=True)
