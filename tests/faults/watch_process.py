"""A watch that is to be killed: it judges, records, keeps and stores as fast as it can, and writes down what it tells.

What a listener hears goes into a file by a plain write: the system has it then, whatever becomes of the program.

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
from bridge.session.session_events import SessionEvent
from bridge.store.session_store import store_sessions
from rules.judge.events import FindingChanged, FindingOpened, Notice
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.builders import PACK, TRIP, FrameSender, write_pack

WATCHES = """
watches:
  beacon_off: {label: Beacon, seat: captain, level: caution, expect: lights.beacon is on}
  low_pressure: {label: Pressure, seat: first_officer, level: warning, expect: hydraulics.1.pressure > 2000 psi}
"""


class PublishedRecord(msgspec.Struct, frozen=True):
    """One thing that was told: of a finding its number and whether it is closed; of a notice its sentence."""

    session: str
    kind: str
    number: int
    closed: bool
    sentence: str


def _load() -> Pack:
    """The small pack, with two watches that go off and on again."""
    with tempfile.TemporaryDirectory() as folder:
        return load_pack(str(write_pack(Path(folder) / "small", PACK + WATCHES)), trip=TRIP)


SMALL = _load()
"""Loaded once, in the process from which all that are killed are forked."""


def run_until_killed(folder: str, address: str, published_path: str) -> None:
    """Run until killed.

    Args:
        folder: where recordings and the spool are.
        address: the store's.
        published_path: the file of what was told.
    """
    asyncio.run(_fly(DataDir(Path(folder)), address, published_path))


async def _fly(keep: DataDir, address: str, told: str) -> None:
    device = build_device(SMALL, TRIP, "udp://127.0.0.1:0")
    file = os.open(told, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    async with (
        store_sessions([device], keep.spool, address, recorded=True),
        record_devices([device], keep.recordings, RecordingLimits(min_free_bytes=0)),
    ):
        device.add_listener(_publish_to_file(device, file))
        sender = FrameSender()
        for step in count():
            sim_s = step * 0.5
            values: dict[str, Value] = {
                "lights.beacon": "on" if step % 10 < 6 else "off",
                "hydraulics.1.pressure": 3000.0 if step % 14 < 9 else 1500.0,
                "flight.ground_speed": 2.0 if step > 60 else 0.0,
            }
            device.session.receive(sender.datagram(sim_s, values, push_approved=10.0), device.runner.clock())
            device.runner.tick()
            await asyncio.sleep(0)


def _publish_to_file(device: Device, file: int) -> Callable[[SessionEvent], None]:
    """Writes down findings and notices as they are told."""

    def heard(told: SessionEvent) -> None:
        match told:
            case FindingOpened(finding=found) | FindingChanged(finding=found):
                said = PublishedRecord(
                    device.session.uuid, "finding", found.number, found.closed_s is not None, found.sentence
                )
            case Notice():
                said = PublishedRecord(device.session.uuid, "notice", 0, closed=False, sentence=told.sentence)
            case _:
                return
        os.write(file, msgspec.json.encode(said) + b"\n")

    return heard
