"""Connects devices to the store: spools each session, and reports problems of disk and database as events.

Takes: devices, the folder of spools, the address of a store.  Gives: a context manager in which sessions are stored.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager, suppress
from pathlib import Path

from bridge.recording.device_recording import make_head
from bridge.recording.recording_budget import recording_stem
from bridge.runtime.device import Device
from bridge.runtime.device_events import PersistencePart, PersistenceProblem, RunnerTicked, SessionCreated
from bridge.session.event_bus import StepEvents
from bridge.session.session_events import StoreReachable, StoreUnreachable
from bridge.store.session_spooler import SessionSpooler
from bridge.store.spool import SpoolWriter
from bridge.store.spool_records import SessionStartRecord
from bridge.store.store_writer import StoreWriter

FINISH_TIMEOUT_S = 5.0
"""How long the end of a watch waits for the database; other records wait in their spools for the next watch."""


class SessionStore:
    """Stores the sessions of one device; publishes each new problem once as an event."""

    def __init__(self, device: Device, folder: Path, writer: StoreWriter, *, recorded: bool) -> None:
        """Store every session of the device from now on.

        Args:
            device: The device.
            folder: The folder of spools.
            writer: Writes spools into the store.
            recorded: True if the sessions are recorded too.
        """
        self._device, self._folder, self._writer, self._recorded = device, folder, writer, recorded
        self._spooler: SessionSpooler | None = None
        self._unfinished: list[SpoolWriter] = []
        self._reported_problem = ""
        device.on_each_session(self._begin_session)
        device.bus.subscribe(self.poll, RunnerTicked)

    def _begin_session(self, created: SessionCreated) -> None:
        """Close the present spool and start one for a new session."""
        self._close_spool()
        session = created.session
        head = make_head(self._device, session)
        recording = recording_stem(head.began_utc, head.device, head.session) if self._recorded else ""
        start = SessionStartRecord(head, dict(self._device.pack.seats), recording)
        self._spooler = SessionSpooler(
            SpoolWriter(self._folder, session.uuid), self._device.pack, start, session
        )
        session.bus.subscribe(self._spooler, StepEvents, durable=True, one_session=True)

    def poll(self, _: RunnerTicked) -> None:
        """Flush records that wait in memory, and publish a problem that is new or solved."""
        if self._spooler is not None:
            self._spooler.spool.flush()
        self._close_unfinished()
        problem = self.problem
        if problem != self._reported_problem:
            self._reported_problem = problem
            self._device.bus.publish(PersistenceProblem(PersistencePart.STORE, problem))
            session = self._device.session
            times = session.event_times()
            session.publish([StoreUnreachable(*times, problem) if problem else StoreReachable(*times)])

    @property
    def problem(self) -> str:
        """The present problem, that of the disk before that of the database; '' for none."""
        spools = [*self._unfinished, *([self._spooler.spool] if self._spooler is not None else [])]
        for spool in spools:
            if spool.problem:
                return f"findings are in memory only: {spool.problem} ({self._folder})"
        if self._writer.problem:
            return f"findings wait on disk: {self._writer.problem}"
        return ""

    def close(self) -> list[bytes]:
        """Close every spool; return the records that the disk refuses to the end, as JSON."""
        self._close_spool()
        self._close_unfinished()
        return [record for spool in self._unfinished for record in spool.unwritten()]

    def _close_spool(self) -> None:
        """Close the spool of the present session; while the disk refuses its records, they are tried again."""
        if self._spooler is not None:
            self._spooler.close()
            self._unfinished.append(self._spooler.spool)
            self._spooler = None
            self._close_unfinished()

    def _close_unfinished(self) -> None:
        """Write what waits of earlier sessions."""
        for spool in self._unfinished:
            if spool.pending:
                spool.close()
        self._unfinished = [spool for spool in self._unfinished if spool.pending]


@asynccontextmanager
async def store_sessions(
    devices: Sequence[Device],
    folder: Path | None,
    url: str,
    *,
    recorded: bool,
    make_writer: Callable[[Path, str], StoreWriter] = StoreWriter,
) -> AsyncIterator[list[StoreWriter]]:
    """Store every session of the devices while the block runs.

    Args:
        devices: The devices.
        folder: The folder of spools, which exists.  None: nothing is stored.
        url: The address of the store.
        recorded: True if the sessions are recorded too.
        make_writer: Makes the writer of the store.

    Yields:
        The writer of the store, or nothing.
    """
    if folder is None:
        yield []
        return
    writer = make_writer(folder, url)
    session_stores = [SessionStore(device, folder, writer, recorded=recorded) for device in devices]
    writing = asyncio.create_task(writer.run(), name="store")
    try:
        yield [writer]
    finally:
        writing.cancel()
        with suppress(asyncio.CancelledError):
            await writing
        for session_store in session_stores:
            writer.lost += session_store.close()
        with suppress(TimeoutError):
            await asyncio.wait_for(asyncio.to_thread(writer.finish), FINISH_TIMEOUT_S)
