"""Fuzz targets of files: packs, maps, trip sheets, device files, conditions, recordings.

Takes: the bytes of a file.  Gives: nothing; anything but a result or faults raises.
"""

from __future__ import annotations

import io
import tempfile
from collections.abc import Callable
from itertools import islice
from pathlib import Path

from mcap.reader import make_reader
from mcap.writer import CompressionType, Writer

from adapters.mapping.load_map import load_map
from bridge.recording.file_format import PROFILE
from bridge.recording.reader import open_recording
from bridge.runtime.device_file import load_devices
from rules.faults import HoldshortError, InputFaults
from rules.packs.load_pack import load_pack
from rules.packs.trip_sheet import load_trip_sheet
from rules.signals.book import load_book
from tests.bridge.page.page_builders import page_pack
from tests.bridge.recording.builders import RecordedDevice
from tests.fuzz.target import BrokenPromiseError, FuzzTarget, RunInput
from tests.fuzz.wire_targets import MAP
from tests.rules.packs.sample_packs import COMPLETE_PACK

SIGNALS = load_book("twin_jet").signals
TRIP = """
trip:
  title: Lindmere 417
  inoperative: [lights.logo]
  values:
    runway: "14"
    runway_heading: 143 deg
    zero_fuel_mass: 48 600 kg        # empty mass and load
    v1: 128 kt
    squawk: 2417
"""
DEVICES = """
devices:
  bay_1: {title: Bay 1, pack: small, trip: trip.yaml, link: "udp://127.0.0.1:0", format: json, peers: [192.0.2.7]}
"""
MAX_MESSAGES = 2_000
"""Messages that are read of one recording; more say nothing new."""


def reads(load: Callable[[Path], object], name: str) -> Callable[[Path], RunInput]:
    """Make a target that writes its input to a file of this name and loads it; only faults may come instead."""

    def build(folder: Path) -> RunInput:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)

        def run(data: bytes) -> None:
            path.write_bytes(data)
            try:
                load(path)
            except InputFaults as error:
                check_faults(error)

        return run

    return build


def check_faults(error: InputFaults) -> None:
    """Each fault has a place and words, and can be printed."""
    if not error.faults or not all(fault.what and str(fault).strip() for fault in error.faults):
        raise BrokenPromiseError(f"faults without words: {error.faults}")


def read_recording(path: Path) -> None:
    """Open a recording and read its messages as a debrief does."""
    recording = open_recording(path)
    for _ in islice(recording.items(), MAX_MESSAGES):
        pass


def read_devices(path: Path) -> None:
    """Read a device file beside a pack and a trip sheet."""
    try:
        load_devices(path)
    except InputFaults:
        raise
    except HoldshortError as error:  # a link that this machine does not have
        if not str(error):
            raise BrokenPromiseError("an error without words") from error


def _build_devices(folder: Path) -> RunInput:
    (folder / "small").mkdir(exist_ok=True)
    (folder / "small" / "pack.yaml").write_text(COMPLETE_PACK, encoding="utf-8")
    (folder / "trip.yaml").write_text(TRIP, encoding="utf-8")
    return reads(read_devices, "devices.yaml")(folder)


def _texts(*texts: str) -> Callable[[], list[bytes]]:
    return lambda: [text.encode() for text in texts]


def _recordings() -> list[bytes]:
    """A short recording, as written and without compression."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        recorded = RecordedDevice(page_pack(folder / "paged"), folder / "recordings")
        recorded.send(0.0, push_approved=0.0)
        recorded.fly(6, since_s=1)
        recorded.request("remark", reason="before the end")
        recorded.recorder.finish()
        (path,) = recorded.read().paths
        written = path.read_bytes()
        plain = io.BytesIO()
        _copy_plain(path, plain)
    return [written, plain.getvalue()]


def _copy_plain(path: Path, to: io.BytesIO) -> None:
    """Copy the messages into one chunk without compression, which mutations can reach into."""
    writer = Writer(to, compression=CompressionType.NONE)
    writer.start(profile=PROFILE)
    with path.open("rb") as stream:
        for _, channel, message in make_reader(stream).iter_messages():
            number = writer.register_channel(channel.topic, channel.message_encoding, 0)
            writer.add_message(number, message.log_time, message.data, message.publish_time, message.sequence)
    writer.finish()  # type: ignore[no-untyped-call]  # the library states no types here


TARGETS = [
    FuzzTarget("pack", reads(lambda path: load_pack(str(path.parent)), "small/pack.yaml"), _texts(COMPLETE_PACK)),
    FuzzTarget("map_file", reads(lambda path: load_map(path, SIGNALS), "map.yaml"), _texts(MAP)),
    FuzzTarget("trip_sheet", reads(lambda path: load_trip_sheet(path, SIGNALS), "trip.yaml"), _texts(TRIP)),
    FuzzTarget("device_file", _build_devices, _texts(DEVICES)),
    FuzzTarget("recording", reads(read_recording, "flight.mcap"), _recordings),
]  # fmt: skip
