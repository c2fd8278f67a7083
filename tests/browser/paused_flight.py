"""A flight that was flown up to a moment and stands there, served to browsers: what is looked at does not change.

Takes: moments of the mock's departure with its slips, as seconds of the simulator.  Gives: `Still`, a page for each.
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
from rules.packs.inheritance import SHIPPED_DIR
from rules.packs.load_pack import load_pack
from rules.packs.trip_sheet import load_trip_sheet
from tests.contract.waiting import ManualClock

RATE_HZ = 5.0
BEGAN_UTC = 1_764_000_000.0
MOMENTS = {"push": 328.0, "start": 436.0}
"""About to push back with four items open and one thing wrong; the second engine's start under way."""
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
    """One device: a rig whose clocks are moved by what it is sent."""

    device: Device
    clock: ManualClock
    wall: ManualClock
    until_s: float
    checklist_begun: bool = False

    def receive(self, sim_s: float, data: list[bytes]) -> None:
        """Let one frame arrive, and the checklist be read from its time on."""
        self.clock.now_s, self.wall.now_s = 100.0 + sim_s, BEGAN_UTC + sim_s
        for datagram in data:
            self.device.session.receive(datagram, self.clock())
        self.device.runner.tick()
        if sim_s >= CHECKLIST_S and not self.checklist_begun:
            self.checklist_begun = self.device.handle(
                Request("start_checklist", "before_start", "first_officer")
            ).accepted


@dataclass(frozen=True)
class PausedPage:
    """The page of devices that stand still."""

    address: str
    key: str

    def view(self, name: str, device: str = "push") -> str:
        """The address of a view."""
        return f"{self.address}{device}/{name}"


def fly_until(until_s: Mapping[str, float]) -> list[Device]:
    """Fly one flight for all devices, each up to its moment.

    Args:
        until_s: by the device's id, seconds of the simulator.
    """
    stood = [_paused_device(name, last_s) for name, last_s in until_s.items()]
    flight = Flight("departure", ["demo"], seed=1, rate_hz=RATE_HZ)
    encoder = encoder_for("msgpack")
    for frame in FlightFrames(flight.scenario, flight, rate_hz=RATE_HZ):
        data = encoder.encode(frame.clock_s, frame.number, frame.fields)
        still = [one for one in stood if frame.clock_s <= one.until_s]
        if not still:
            break
        for one in still:
            one.receive(frame.clock_s, data)
    for one in stood:
        _request(one.device, LAST_REQUESTS)
    return [one.device for one in stood]


def _paused_device(name: str, until_s: float) -> PausedDevice:
    papers = load_trip_sheet(SHIPPED_DIR / "twin_jet" / "trip_demo.yaml")
    clock, wall = ManualClock(), ManualClock(BEGAN_UTC)
    title = f"Halyard 220, {name}"
    rig = build_device(load_pack("twin_jet", trip=papers), papers, "udp://127.0.0.1:0", device_id=name, title=title, wall_clock=wall)  # fmt: skip
    rig.runner.clock = clock
    rig.runner.supervised_link.link = MemoryLink("udp 127.0.0.1:5139", clock=clock)
    _request(rig, FIRST_REQUESTS)
    return PausedDevice(rig, clock, wall, until_s)


def _request(rig: Device, requests: tuple[Request, ...]) -> None:
    for request in requests:
        reply = rig.handle(request)
        assert reply.accepted, reply.text


@contextmanager
def serve_paused(rigs: list[Device], store: str = "") -> Iterator[PausedPage]:
    """Serve them from another thread while the block runs, with the trends of a store if there is one."""
    page, found, over = PageApp(DeviceRegistry(rigs), new_key(), store), Future[str](), threading.Event()

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
