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

from adapters.build import encoder_for
from adapters.links.memory import MemoryLink
from bridge.control import Request
from bridge.floor import Floor
from bridge.page.app import Page
from bridge.page.keys import new_key
from bridge.page.serve import served
from bridge.rig import Rig, build_rig
from mock_sim.run import Flight
from mock_sim.send.frames import Frames
from rules.packs.layers import SHIPPED
from rules.packs.load import load_pack
from rules.packs.trip import load_trip
from tests.contract.until import Clock

RATE_HZ = 5.0
BEGAN_UTC = 1_764_000_000.0
MOMENTS = {"push": 328.0, "start": 436.0}
"""About to push back with four items open and one thing wrong; the second engine's start under way."""
READ_S = 312.0
FIRST_ASKED = (
    Request("name", "Lindmere 417, lesson 4"),
    Request("seat", "captain", "instructor", "Wren 12"),
    Request("seat", "first_officer", "instructor", "Tern 7"),
)
LAST_ASKED = (
    Request("remark", "", "instructor", "the brake was off before the tug was ready"),
    Request("call", "cabin_ready", "instructor"),
)


@dataclass
class Stood:
    """One device: a rig whose clocks are moved by what it is sent."""

    rig: Rig
    clock: Clock
    wall: Clock
    until_s: float
    read: bool = False

    def take(self, sim_s: float, data: list[bytes]) -> None:
        """Let one frame arrive, and the checklist be read from its time on."""
        self.clock.now_s, self.wall.now_s = 100.0 + sim_s, BEGAN_UTC + sim_s
        for datagram in data:
            self.rig.session.take(datagram, self.clock())
        self.rig.run.tick()
        if sim_s >= READ_S and not self.read:
            self.read = self.rig.answer(Request("read", "before_start", "first_officer")).done


@dataclass(frozen=True)
class Still:
    """The page of devices that stand still."""

    address: str
    key: str

    def view(self, name: str, device: str = "push") -> str:
        """The address of a view."""
        return f"{self.address}{device}/{name}"


def flown(until_s: Mapping[str, float]) -> list[Rig]:
    """Fly one flight for all devices, each up to its moment.

    Args:
        until_s: by the device's id, seconds of the simulator.
    """
    stood = [_stood(name, last_s) for name, last_s in until_s.items()]
    flight = Flight("departure", ["demo"], seed=1, rate_hz=RATE_HZ)
    encoder = encoder_for("msgpack")
    for frame in Frames(flight.scenario, flight, rate_hz=RATE_HZ):
        data = encoder.encode(frame.clock_s, frame.number, frame.fields)
        still = [one for one in stood if frame.clock_s <= one.until_s]
        if not still:
            break
        for one in still:
            one.take(frame.clock_s, data)
    for one in stood:
        _ask(one.rig, LAST_ASKED)
    return [one.rig for one in stood]


def _stood(name: str, until_s: float) -> Stood:
    papers = load_trip(SHIPPED / "twin_jet" / "trip_demo.yaml")
    clock, wall = Clock(), Clock(BEGAN_UTC)
    title = f"Halyard 220, {name}"
    rig = build_rig(load_pack("twin_jet", trip=papers), papers, "udp://127.0.0.1:0", name=name, title=title, wall=wall)  # fmt: skip
    rig.run.clock = clock
    rig.run.upkeep.link = MemoryLink("udp 127.0.0.1:5139", clock=clock)
    _ask(rig, FIRST_ASKED)
    return Stood(rig, clock, wall, until_s)


def _ask(rig: Rig, requests: tuple[Request, ...]) -> None:
    for request in requests:
        reply = rig.answer(request)
        assert reply.done, reply.text


@contextmanager
def standing(rigs: list[Rig], store: str = "") -> Iterator[Still]:
    """Serve them from another thread while the block runs, with the trends of a store if there is one."""
    page, found, over = Page(Floor(rigs), new_key(), store), Future[str](), threading.Event()

    async def serve() -> None:
        async with served(page, "127.0.0.1", 0) as address:
            found.set_result(address)
            await asyncio.to_thread(over.wait)

    thread = threading.Thread(target=asyncio.run, args=(serve(),))
    thread.start()
    try:
        yield Still(found.result(10), page.key.text)
    finally:
        over.set()
        thread.join()
