"""Ties recorders to rigs: who is recorded where, and that troubles are told.

Takes: rigs and a folder.  Gives: a block of time in which they are recorded.
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
from bridge.session.session import Session
from bridge.session.session_events import SessionChangeKind


def program_version() -> str:
    """The version of this program; 'unknown' where it runs without being installed."""
    try:
        return version("holdshort")
    except PackageNotFoundError:
        return "unknown"


def make_head(device: Device, session: Session) -> RecordingHead:
    """What a recording says first of a session that begins on a rig."""
    pack, papers = device.pack, device.trip
    return RecordingHead(
        format_version=FORMAT_VERSION,
        program=program_version(),
        session=session.uuid,
        name=session.name,
        device=device.id,
        title=device.title,
        began_utc=session.began_utc,
        pack=RecordedPack(pack.id, pack.title, pack.version, pack.source_digest),
        trip=RecordedTrip(papers.title, dict(session.judge.trip_values), papers.inoperative, papers.note),
        course=session.course,
    )


class DeviceRecording:
    """A rig and its recorder; says each trouble once, as a note of the session."""

    def __init__(self, device: Device, recorder: Recorder) -> None:
        """Record the rig from now on."""
        self._device, self._recorder = device, recorder
        self._reported_problem = ""
        self._reported_warning = ""
        device.on_each_session(self._start_recording)
        device.runner.tick_callbacks.append(self.report_problems)
        device.problem_checks.append(lambda: recorder.problem or recorder.warning)

    def _start_recording(self, session: Session) -> None:
        self._reported_problem, self._reported_warning = "", ""
        self._recorder.start_session(session, make_head(self._device, session))

    def report_problems(self) -> None:
        """Tell a trouble that is new, and early that there will be one."""
        warning = self._recorder.warning
        if bool(warning) != bool(self._reported_warning):
            self._reported_warning = warning
            if warning:
                self._device.session.publish_change(SessionChangeKind.DISK_NEARLY_FULL, warning)
        trouble = self._recorder.problem
        if trouble != self._reported_problem:
            self._reported_problem = trouble
            if trouble:
                self._device.session.publish_change(SessionChangeKind.RECORDING_STOPPED, trouble)


@asynccontextmanager
async def record_devices(
    devices: Sequence[Device], folder: Path | None, limits: RecordingLimits | None = None
) -> AsyncIterator[list[Recorder]]:
    """Record every session of some rigs while the block runs.

    Args:
        devices: The devices.
        folder: Where recordings go; it exists.  None: nothing is recorded.
        limits: Of sizes.

    Yields:
        A recorder for each rig.
    """
    recorders = [Recorder(folder, limits) for _ in devices] if folder is not None else []
    for rig, recorder in zip(devices, recorders, strict=False):
        DeviceRecording(rig, recorder)
        recorder.start()
    try:
        yield recorders
    finally:
        await asyncio.gather(*(asyncio.to_thread(recorder.close) for recorder in recorders))
