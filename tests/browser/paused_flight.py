"""Serves a flight that is paused at a moment, so that its page does not change.

Takes: moments of the mock's departure with its slips, as simulator seconds.  Gives: `PausedPage`.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator, Mapping
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass

from adapters.factory import encoder_for
from adapters.links.memory import MemoryLink
from bridge.page.app import PageApp
from bridge.page.auth import new_key
from bridge.page.serve import page_server
from bridge.runtime.device import Device, build_device
from bridge.runtime.registry import DeviceRegistry
from bridge.session.requests import Request
from mock_sim.run import Flight
from mock_sim.send.frames import FlightFrames
from rules.packs.load_pack import SHIPPED_DIR, load_pack
from rules.packs.trip_sheet import load_trip_sheet
from tests.bridge.builders import feed
from tests.contract.waiting import ManualClock

RATE_HZ = 5.0
BEGAN_UTC = 1_764_000_000.0
MOMENTS = {"push": 328.0, "start": 436.0}
"""Before the push, with four open items and one exceeded limit; and during the second engine start."""
CHECKLIST_S = 312.0
FIRST_REQUESTS = (
    Request("rename_session", "Lindmere 417, lesson 4"),
    Request("assign_seat", "captain", "instructor", "Wren 12"),
    Request("assign_seat", "first_officer", "instructor", "Tern 7"),
)
LAST_REQUESTS = (
    Request("remark", "", "instructor", "the brake was off before the tug was ready"),
    Request("call", "cabin_ready", "instructor"),
)


@dataclass
class PausedDevice:
    """One device whose clocks follow the frames that it receives."""

    device: Device
    clock: ManualClock
    wall: ManualClock
    until_s: float
    checklist_started: bool = False

    def receive(self, sim_s: float, data: list[bytes]) -> None:
        """Receive one frame, and start the checklist at its time."""
        self.clock.now_s, self.wall.now_s = 100.0 + sim_s, BEGAN_UTC + sim_s
        for datagram in data:
            feed(self.device, datagram, self.clock())
        self.device.runner.tick()
        if sim_s >= CHECKLIST_S and not self.checklist_started:
            self.checklist_started = self.device.handle(
                Request("start_checklist", "before_start", "first_officer")
            ).accepted


@dataclass(frozen=True)
class PausedPage:
    """The page of the paused devices: its address and its access key."""

    address: str
    key: str

    def view(self, name: str, device: str = "push") -> str:
        """Return the address of a view."""
        return f"{self.address}{device}/{name}"


def fly_until(until_s: Mapping[str, float]) -> list[Device]:
    """Fly one flight for all devices, each up to its moment.

    Args:
        until_s: simulator seconds, by the id of the device.
    """
    paused = [_paused_device(name, last_s) for name, last_s in until_s.items()]
    flight = Flight("departure", ["demo"], seed=1, rate_hz=RATE_HZ)
    encoder = encoder_for("msgpack")
    for frame in FlightFrames(flight.scenario, flight, rate_hz=RATE_HZ):
        data = encoder.encode(frame.clock_s, frame.number, frame.fields)
        waiting = [one for one in paused if frame.clock_s <= one.until_s]
        if not waiting:
            break
        for one in waiting:
            one.receive(frame.clock_s, data)
    for one in paused:
        _request(one.device, LAST_REQUESTS)
    return [one.device for one in paused]


def _paused_device(name: str, until_s: float) -> PausedDevice:
    trip = load_trip_sheet(SHIPPED_DIR / "twin_jet" / "trip_demo.yaml")
    clock, wall = ManualClock(), ManualClock(BEGAN_UTC)
    title = f"Halyard 220, {name}"
    device = build_device(load_pack("twin_jet", trip=trip), trip, "udp://127.0.0.1:0", device_id=name, title=title, wall_clock=wall)  # fmt: skip
    device.source.clock = clock
    device.source.link = MemoryLink("udp 127.0.0.1:5139", clock=clock)
    _request(device, FIRST_REQUESTS)
    return PausedDevice(device, clock, wall, until_s)


def _request(device: Device, requests: tuple[Request, ...]) -> None:
    for request in requests:
        reply = device.handle(request)
        assert reply.accepted, reply.text


@contextmanager
def serve_paused(devices: list[Device], store: str = "") -> Iterator[PausedPage]:
    """Serve the devices in another thread while the block runs, with the history pages of a store if there is one."""
    page, found, over = PageApp(DeviceRegistry(devices), new_key(), store), Future[str](), threading.Event()

    async def serve() -> None:
        async with page_server(page, "127.0.0.1", 0) as address:
            found.set_result(address)
            await asyncio.to_thread(over.wait)

    thread = threading.Thread(target=asyncio.run, args=(serve(),))
    thread.start()
    try:
        yield PausedPage(found.result(10), page.key.text)
    finally:
        over.set()
        thread.join()
