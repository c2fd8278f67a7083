"""The options that say what is kept, and the recording while a flight is watched.

Takes: options and rigs.  Gives: a block of time in which sessions are recorded, and lines on where.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager, suppress
from typing import Annotated, NamedTuple, TypeAlias

import structlog
import typer
from rich.console import Console
from sqlalchemy.exc import DBAPIError

from bridge.privacy.retention import prune
from bridge.recording.device_recording import record_devices
from bridge.recording.replay_receiver import ReplayRunner
from bridge.recording.writer import RecordingLimits
from bridge.runtime.data_dir import DataDir, resolve_data_dir
from bridge.runtime.device import Device
from bridge.runtime.runner import TICK_S
from bridge.store.database import database_message, open_store, redact_password, store_url
from bridge.store.session_store import store_sessions
from rules.faults import HoldshortError

DataDirOption: TypeAlias = Annotated[
    str,
    typer.Option("--data-dir", metavar="FOLDER", help="Where recordings and the store are kept, or off."),
]
RecordingsLimitOption: TypeAlias = Annotated[
    float,
    typer.Option(
        "--recordings-limit",
        metavar="GB",
        help="What all recordings may take; the oldest give way.",
        min=0.01,
    ),
]
StoreOption: TypeAlias = Annotated[
    str,
    typer.Option(
        "--store", metavar="URL", help="Another database than a file in the folder, such as postgresql://…"
    ),
]
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
        clearing = asyncio.create_task(
            asyncio.to_thread(_prune_old_sessions, options) if live else asyncio.sleep(0)
        )
        try:
            yield
        finally:
            await asyncio.gather(clearing, return_exceptions=True)
            said += [f"RECORD {recorder.status_text}" for recorder in recorders]
    said += [f"STORE  {redact_password(options.store_url)}: {drain.status_text}" for drain in drains]
    for words in said:
        with suppress(BrokenPipeError):  # nobody reads
            console.print(words, soft_wrap=True)


def _prune_old_sessions(options: PersistOptions) -> None:
    """Remove what is older than sessions are kept; where that cannot be done now, the next watch will."""
    if options.data_dir is None:
        return
    log = structlog.get_logger("store")
    try:
        engine = open_store(options.store_url)
    except HoldshortError as error:
        log.warning("not tidied", why=str(error))
        return
    try:
        old = prune(engine, options.data_dir, time.time())
        if old.not_removable:
            log.warning("not tidied", why="a recording cannot be removed", recordings=old.not_removable)
        elif old.sessions and not old.removed:
            doubt = "more sessions would go than stay: is the clock right? holdshort prune does it"
            log.warning("not tidied", why=doubt)
        elif old.sessions:
            log.info("tidied", sessions=len(old.sessions), recordings=len(old.recordings))
    except DBAPIError as error:
        log.warning("not tidied", why=database_message(error))
    finally:
        engine.dispose()


async def wait_until_played(devices: Sequence[Device]) -> None:
    """Wait until all that is played from recordings was played; for ever where a simulator is watched too."""
    runs = [rig.runner for rig in devices]
    while not all(isinstance(run, ReplayRunner) and run.is_finished() for run in runs):  # noqa: ASYNC110 - two clocks meet here
        await asyncio.sleep(TICK_S)
    await asyncio.sleep(TICK_S)
