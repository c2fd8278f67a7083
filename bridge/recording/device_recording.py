"""Starts a recording for each session of a device and reports problems of the recorder as session events.

Takes: devices and a folder.  Gives: a context manager in which their sessions are recorded.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from bridge.recording.file_format import FORMAT_VERSION, RecordedPack, RecordedTrip, RecordingHead
from bridge.recording.recorder import Recorder
from bridge.recording.writer import RecordingLimits
from bridge.runtime.device import Device
from bridge.runtime.device_events import PersistencePart, PersistenceProblem, RunnerTicked, SessionCreated
from bridge.session.session import Session
from bridge.session.session_events import DiskNearlyFull, RecordingResumed, RecordingStopped


def program_version() -> str:
    """Return the version of this program, or 'unknown' if it is not installed."""
    try:
        return version("holdshort")
    except PackageNotFoundError:
        return "unknown"


def make_head(device: Device, session: Session) -> RecordingHead:
    """Build the head of a recording from a device and its new session."""
    pack, trip = device.pack, device.trip
    return RecordingHead(
        format_version=FORMAT_VERSION,
        program=program_version(),
        session=session.uuid,
        name=session.name,
        device=device.id,
        title=device.title,
        began_utc=session.began_utc,
        pack=RecordedPack(pack.id, pack.title, pack.version, pack.source_digest),
        trip=RecordedTrip(trip.title, session.trip_values, trip.inoperative, trip.note, trip.calls),
        course=session.course,
    )


class DeviceRecording:
    """Connects a device to its recorder; publishes each new problem once as an event, and its end."""

    def __init__(self, device: Device, recorder: Recorder) -> None:
        """Record every session of the device from now on."""
        self._device, self._recorder = device, recorder
        self._reported_problem = ""
        self._reported_warning = ""
        self._shown = ""
        device.on_each_session(self._start_recording)
        device.bus.subscribe(self.report_problems, RunnerTicked)

    def _start_recording(self, created: SessionCreated) -> None:
        self._reported_problem, self._reported_warning = "", ""
        self._recorder.start_session(created.session, make_head(self._device, created.session))

    def report_problems(self, _: RunnerTicked) -> None:
        """Publish a new problem or its end, and a warning before the disk is full."""
        shown = self._recorder.problem or self._recorder.warning
        if shown != self._shown:
            self._shown = shown
            self._device.bus.publish(PersistenceProblem(PersistencePart.RECORDING, shown))
        session, warning = self._device.session, self._recorder.warning
        if bool(warning) != bool(self._reported_warning):
            self._reported_warning = warning
            if warning:
                session.publish([DiskNearlyFull(*session.event_times(), warning)])
        problem = self._recorder.problem
        if problem != self._reported_problem:
            self._reported_problem = problem
            times = session.event_times()
            session.publish([RecordingStopped(*times, problem) if problem else RecordingResumed(*times)])


@asynccontextmanager
async def record_devices(
    devices: Sequence[Device], folder: Path | None, limits: RecordingLimits | None = None
) -> AsyncIterator[list[Recorder]]:
    """Record every session of the devices while the block runs.

    Args:
        devices: The devices.
        folder: The folder of recordings, which exists.  None: nothing is recorded.
        limits: Limits of file sizes and disk space.

    Yields:
        One recorder for each device.
    """
    recorders = [Recorder(folder, limits) for _ in devices] if folder is not None else []
    for device, recorder in zip(devices, recorders, strict=False):
        DeviceRecording(device, recorder)
        recorder.start()
    try:
        yield recorders
    finally:
        await asyncio.gather(*(asyncio.to_thread(recorder.close) for recorder in recorders))
