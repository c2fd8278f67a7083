"""A watch to be killed: it judges, records and stores at full speed, and writes its published events to a file.

Each event is written to the file by one system call, so that it survives the end of the process.

Takes: folders, the address of a store.  Gives: nothing; it runs until it is killed.
"""

from __future__ import annotations

import asyncio
import os
import tempfile
from collections.abc import Callable
from itertools import count
from pathlib import Path

import msgspec

from bridge.recording.device_recording import record_devices
from bridge.recording.writer import RecordingLimits
from bridge.runtime.data_dir import DataDir
from bridge.runtime.device import Device, build_device
from bridge.session.session_events import KINDS, SessionEvent
from bridge.store.session_store import store_sessions
from rules.judge.events import FindingChanged, FindingOpened, Notice
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.builders import PACK, TRIP, FrameSender, feed, write_pack

WATCHES = """
watches:
  beacon_off: {label: Beacon, seat: captain, level: caution, expect: lights.beacon is on}
  low_pressure: {label: Pressure, seat: first_officer, level: warning, expect: hydraulics.1.pressure > 2000 psi}
"""


class PublishedRecord(msgspec.Struct, frozen=True):
    """A published finding, with its number and if it is closed, or a published notice."""

    session: str
    kind: str
    number: int
    closed: bool
    sentence: str


def _load() -> Pack:
    """Load the small pack with two watches whose signals change often."""
    with tempfile.TemporaryDirectory() as folder:
        return load_pack(str(write_pack(Path(folder) / "small", PACK + WATCHES)), trip=TRIP)


SMALL = _load()
"""Loaded once, in the process from which all others are forked."""


def run_until_killed(folder: str, address: str, published_path: str) -> None:
    """Judge, record and store until killed.

    Args:
        folder: the data folder.
        address: address of the store.
        published_path: file of the published events.
    """
    asyncio.run(_fly(DataDir(Path(folder)), address, published_path))


async def _fly(data_dir: DataDir, address: str, published_path: str) -> None:
    device = build_device(SMALL, TRIP, "udp://127.0.0.1:0")
    file = os.open(published_path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    async with (
        store_sessions([device], data_dir.spool, address, recorded=True),
        record_devices([device], data_dir.recordings, RecordingLimits(min_free_bytes=0)),
    ):
        device.bus.subscribe(_publish_to_file(device, file), *KINDS)
        sender = FrameSender()
        for step in count():
            sim_s = step * 0.5
            values: dict[str, Value] = {
                "lights.beacon": "on" if step % 10 < 6 else "off",
                "hydraulics.1.pressure": 3000.0 if step % 14 < 9 else 1500.0,
                "flight.ground_speed": 2.0 if step > 60 else 0.0,
            }
            feed(device, sender.datagram(sim_s, values, push_approved=10.0), device.source.clock())
            device.runner.tick()
            await asyncio.sleep(0)


def _publish_to_file(device: Device, file: int) -> Callable[[SessionEvent], None]:
    """Return a listener that writes findings and notices to a file."""

    def write_event(event: SessionEvent) -> None:
        match event:
            case FindingOpened(finding=finding) | FindingChanged(finding=finding):
                record = PublishedRecord(
                    device.session.uuid,
                    "finding",
                    finding.number,
                    finding.closed_s is not None,
                    finding.sentence,
                )
            case Notice():
                record = PublishedRecord(
                    device.session.uuid, "notice", 0, closed=False, sentence=event.sentence
                )
            case _:
                return
        os.write(file, msgspec.json.encode(record) + b"\n")

    return write_event
