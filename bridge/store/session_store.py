"""Ties rigs to the store: each session is kept, and what stands in the way is told.

Takes: rigs, a folder, the address of a store.  Gives: a block of time in which their sessions are kept.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager, suppress
from pathlib import Path

from bridge.recording.device_recording import make_head
from bridge.recording.retention import recording_stem
from bridge.runtime.device import Device
from bridge.session.session import Session
from bridge.session.session_events import SessionChangeKind
from bridge.store.session_spooler import SessionSpooler
from bridge.store.spool import SpoolWriter
from bridge.store.spool_records import SessionBegunRecord
from bridge.store.store_writer import StoreWriter

FINISH_TIMEOUT_S = 5.0
"""How long the end of a watch waits for the database; what is not in it by then waits in its spool for the next watch."""


class SessionStore:
    """A rig whose sessions are kept; says each trouble once, as a note of the session."""

    def __init__(self, device: Device, folder: Path, writer: StoreWriter, *, recorded: bool) -> None:
        """Keep the rig's sessions from now on.

        Args:
            device: the device.
            folder: the spools'.
            writer: puts them into the store.
            recorded: whether the sessions are recorded as well.
        """
        self._device, self._folder, self._writer, self._recorded = device, folder, writer, recorded
        self._spooler: SessionSpooler | None = None
        self._reported_trouble = ""
        device.on_each_session(self._begin_session)
        device.runner.tick_callbacks.append(self.poll)
        device.problem_checks.append(lambda: self.trouble)

    def _begin_session(self, session: Session) -> None:
        """Keep a session, and the one before no more."""
        if self._spooler is not None:
            self._spooler.close()
        head = make_head(self._device, session)
        recording = recording_stem(head.began_utc, head.device, head.session) if self._recorded else ""
        begun = SessionBegunRecord(head, dict(self._device.pack.seats), recording)
        self._spooler = SessionSpooler(
            SpoolWriter(self._folder, session.uuid), self._device.pack, begun, session
        )
        session.event_writers.append(self._spooler)

    def poll(self) -> None:
        """Try again what waits in memory, and tell a trouble that is new or over."""
        if self._spooler is not None:
            self._spooler.spool.flush()
        trouble = self.trouble
        if trouble != self._reported_trouble:
            self._reported_trouble, before = trouble, self._reported_trouble
            if trouble:
                self._device.session.publish_change(SessionChangeKind.STORE_UNREACHABLE, trouble)
            elif before:
                self._device.session.publish_change(SessionChangeKind.STORE_REACHABLE)

    @property
    def trouble(self) -> str:
        """What stands in the way, the disk before the database."""
        spool = self._spooler.spool if self._spooler is not None else None
        if spool is not None and spool.trouble:
            return f"what is found is kept in memory only: {spool.trouble} ({self._folder})"
        if self._writer.trouble:
            return f"what is found waits on the disk: {self._writer.trouble}"
        return ""

    def close(self) -> None:
        """The session is watched no more."""
        if self._spooler is not None:
            self._spooler.close()
            self._spooler = None


@asynccontextmanager
async def store_sessions(
    devices: Sequence[Device],
    folder: Path | None,
    url: str,
    *,
    recorded: bool,
    make_writer: Callable[[Path, str], StoreWriter] = StoreWriter,
) -> AsyncIterator[list[StoreWriter]]:
    """Keep every session of some rigs while the block runs.

    Args:
        devices: the devices.
        folder: the spools'; it exists.  None: nothing is kept.
        url: the store's.
        recorded: whether the sessions are recorded as well.
        make_writer: makes what puts the spools into the store.

    Yields:
        What puts them into the store, if anything is kept.
    """
    if folder is None:
        yield []
        return
    drain = make_writer(folder, url)
    kept = [SessionStore(rig, folder, drain, recorded=recorded) for rig in devices]
    draining = asyncio.create_task(drain.run(), name="store")
    try:
        yield [drain]
    finally:
        draining.cancel()
        with suppress(asyncio.CancelledError):
            await draining
        for each in kept:
            each.close()
        with suppress(TimeoutError):
            await asyncio.wait_for(asyncio.to_thread(drain.finish), FINISH_TIMEOUT_S)
