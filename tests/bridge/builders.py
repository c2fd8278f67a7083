"""A small pack, a frame sender, devices on a link in memory and printed text, for the tests of the bridge.

Takes: a folder to write into.  Gives: `small_pack`, `FrameSender`, `device_on_memory_link`, `printed_text`.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path

from rich.console import Console, RenderableType

from adapters.encode.msgpack_map import MsgpackEncoder
from adapters.factory import receiver_for
from adapters.frame_source import FrameSource
from adapters.links.memory import MemoryLink
from bridge.runtime.device import Device
from bridge.session.input_signals import input_signals
from rules.packs.load_pack import load_pack
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Value
from tests.contract.waiting import ManualClock

TRIP = TripSheet("Lindmere 417", {})
PACK = """
pack: {id: small, title: Small jet, signals: [twin_jet, trip]}
seats: {captain: Captain, first_officer: First officer}
phases:
  stand: {title: At the stand, code: STD}
  pushing: {title: Push back, code: PBT}
calls: {push_approved: {title: push approved, by: ground}}
gates:
  push: {phase: pushing, cue: call.push_approved happened, entry: flight.ground_speed > 1 kt, needs: [flow before]}
flows:
  before:
    title: Before push back
    phase: stand
    captain:
      - beacon: lights.beacon is on
        level: caution
      - documents:
        confirm: Documents on board
    first_officer:
      - pressure: hydraulics.1.pressure in 2800..3200 psi
        level: warning
"""
READY: dict[str, Value] = {
    "lights.beacon": "on",
    "hydraulics.1.pressure": 3000.0,
    "flight.ground_speed": 0.0,
}


def feed(device: Device, data: bytes, recv_s: float) -> None:
    """Decode a datagram that arrived at `recv_s`, and judge its frames."""
    for frame in device.source.decode(data, recv_s):
        device.runner.judge_frame(frame)


def write_pack(folder: Path, text: str = PACK) -> Path:
    """Write a pack of one file and return its folder."""
    folder.mkdir(exist_ok=True)
    (folder / "pack.yaml").write_text(text, encoding="utf-8")
    return folder


def small_pack(folder: Path) -> Pack:
    """Write and load the small pack."""
    return load_pack(str(write_pack(folder)), trip=TRIP)


class FrameSender:
    """Encodes frames as datagrams and numbers them."""

    def __init__(self) -> None:
        """Start with number 1."""
        self._number = 0
        self._encoder = MsgpackEncoder()

    def lose(self, frames: int) -> None:
        """Let frames be lost on the way: the next one has a later number."""
        self._number += frames

    def datagram(self, sim_s: float, values: Mapping[str, Value] | None = None, **calls: float) -> bytes:
        """Encode one frame: `READY` with these values changed, and calls with the times at which they were entered."""
        self._number += 1
        fields = {**READY, **(values or {}), **{f"call.{name}": call_s for name, call_s in calls.items()}}
        (data,) = self._encoder.encode(sim_s, self._number, fields)
        return data


def device_on_memory_link(pack: Pack, clock: ManualClock) -> tuple[Device, MemoryLink]:
    """Build a device on a link in memory and on a manual clock."""
    link = MemoryLink(clock=clock)
    receiver = receiver_for(input_signals(pack), calls=tuple(pack.calls))
    return Device(pack, TRIP, FrameSource(receiver, lambda: link, "memory", clock=clock)), link


def rendered_text(renderable: RenderableType, width: int = 80) -> str:
    """Render for a terminal of this width, without colour and trailing spaces."""
    console = text_console(width)
    console.print(renderable)
    return printed_text(console)


def text_console(width: int = 80) -> Console:
    """Make a console that prints into memory."""
    return Console(file=io.StringIO(), width=width, no_color=True, markup=False, highlight=False, emoji=False)


def printed_text(console: Console) -> str:
    """Return the text printed on a console of `text_console`, without spaces at the ends of lines."""
    assert isinstance(console.file, io.StringIO)
    return "\n".join(line.rstrip() for line in console.file.getvalue().splitlines())
