"""Measures what a frame costs in a whole watch, part by part: the mock's own sector, with its fields and its noise.

The parts before the session run without waiting, one pass after the other.  From the session on a run has twenty devices at
20 Hz, as a training centre does: screens, the recorder's threads and the store work by time, not by frame.  Each later run has one
thing more, so a part costs the difference to the run before; clients of the page cost the difference to the page without one.  Time is that of the processor, of all threads; the clients of the page
are a process of their own, which is not counted.

Takes: seconds of each run.  Gives: `PartCost`s, and their lines.
"""

from __future__ import annotations

import asyncio
import struct
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AsyncExitStack, contextmanager
from functools import partial
from itertools import cycle, islice
from pathlib import Path
from typing import NamedTuple, TypeAlias, TypeVar

from rich.console import Console

from adapters.factory import encoder_for, receiver_for
from adapters.receiver import Receiver
from bridge.outputs.notifiers.device_notifiers import notify_from_devices
from bridge.outputs.notifiers.factory import make_notifiers
from bridge.page.app import PageApp
from bridge.page.auth import new_key
from bridge.page.serve import page_server
from bridge.page.views.registry import PANELS, find_view
from bridge.recording.device_recording import record_devices
from bridge.recording.writer import RecordingLimits
from bridge.runtime.data_dir import DataDir
from bridge.runtime.device import Device, build_device
from bridge.runtime.registry import DeviceRegistry
from bridge.runtime.runner import TICK_S
from bridge.store.database import store_url
from bridge.store.session_store import store_sessions
from mock_sim.run import Flight
from mock_sim.send.frames import FlightFrames
from rules.judge.judge import Judge
from rules.signals.model import Frame, Value
from rules.signals.state import SignalState
from tests.bench.flight_frames import conditions_without_figures, twin_jet
from tests.bench.measure import freeze_heap
from tests.bench.peers import HandWritten
from tests.bench.translate import plain_conditions
from tests.bridge.builders import feed

RATE_HZ = 20.0
DEVICES = 20
WIRE = "msgpack"
BEGINS_S = 1500.0
"""Simulated time at which the frames begin: the engines are started soon after."""
PASSES = 3
ALL_IN_AIM_US, DEVICES_AIM = 350.0, 100
"""Aims for everything but the page: microseconds of a frame, devices at 20 Hz on one core."""
CLIENT = """
import asyncio, sys
from tests.browser.stream_clients import StreamClient
async def main(address, *shown):
    await asyncio.gather(
        *(StreamClient().read(address, f"device_{n}", panels.split(",")) for n, panels in enumerate(shown))
    )
asyncio.run(main(*sys.argv[1:]))
"""

T = TypeVar("T")
Datagrams: TypeAlias = Sequence[tuple[float, bytes]]


class PartCost(NamedTuple):
    """What one part costs in each frame, in microseconds of the processor, and what all parts up to it cost."""

    part: str
    us: float
    total_us: float


def sector_datagrams(count: int) -> Datagrams:
    """Encode frames of a sector with noise on every gauge, as the mock sends them; the time of arrival with each."""
    flight, encoder = Flight("sector", (), 1, rate_hz=RATE_HZ), encoder_for(WIRE)
    frames = (f for f in FlightFrames(flight.scenario, flight, rate_hz=RATE_HZ) if f.clock_s >= BEGINS_S)
    return [
        (frame.due_s, data)
        for frame in islice(frames, count)
        for data in encoder.encode(frame.clock_s, frame.number, frame.fields)
    ]


def _us_a_frame(prepare: Callable[[], Callable[[T], object]], inputs: Sequence[T]) -> float:
    """Best of some passes over all inputs but the first, which binds every field, in microseconds of the processor for each."""
    took = []
    for _ in range(PASSES):
        step = prepare()
        step(inputs[0])
        began = time.process_time_ns()
        for one in inputs[1:]:
            step(one)
        took.append(time.process_time_ns() - began)
    return min(took) / 1e3 / (len(inputs) - 1)


def peers(sent: Datagrams) -> list[PartCost]:
    """Cost of unpacking the same numbers with `struct`, and of hand-written Python that judges the conditions without time."""
    pack, trip = twin_jet()
    frames = list(_frames(sent))
    values: dict[str, Value] = {**trip.values}
    rows: list[tuple[dict[str, Value], bytes]] = []
    for frame in frames:
        values.update({sample.name: sample.value for sample in frame.changes if sample.value is not None})
        numbers = [value for value in values.values() if isinstance(value, float)]
        rows.append((dict(values), struct.pack(f"<{len(numbers)}d", *numbers)))
    form = struct.Struct(f"<{len(rows[-1][1]) // 8}d")
    packed = [row for _, row in rows if len(row) == form.size]
    hand = HandWritten(plain_conditions(conditions_without_figures(pack)), {**_defaults(), **rows[-1][0]})

    def judge(frame: Frame) -> None:
        hand.update(frame.changes)
        hand.judge()

    return _summed(
        {
            "struct alone": _us_a_frame(lambda: form.unpack, packed),
            "hand-written Python alone": _us_a_frame(lambda: judge, frames),
        }
    )


def _defaults() -> dict[str, Value]:
    """A value of each signal that the aeroplane does not send, so that hand-written Python can be called."""
    return {
        name: signal.words[0] if signal.words else signal.low if signal.is_numeric else ""
        for name, signal in twin_jet()[0].signals.items()
    }


def _frames(sent: Datagrams) -> Iterator[Frame]:
    """Frames of these datagrams, from a receiver of their own."""
    pack, _ = twin_jet()
    receiver = receiver_for(pack.signals, format_name=WIRE, calls=pack.calls)
    for recv_s, data in sent:
        yield from receiver.receive(data, recv_s)


def parts_before_the_session(sent: Datagrams) -> list[PartCost]:
    """Cost of decoding, mapping, folding and judging."""
    pack, trip = twin_jet()
    frames = list(_frames(sent))

    def receiver() -> Receiver:
        return receiver_for(pack.signals, format_name=WIRE, calls=pack.calls)

    data = [one for _, one in sent]
    us = {
        "decode": _us_a_frame(lambda: receiver().decoder.decode, data),
        "map": _us_a_frame(lambda: partial(_receive, receiver()), sent),
        "fold": _us_a_frame(lambda: SignalState(pack.signals).fold, frames),
        "judge": _us_a_frame(lambda: Judge(pack, trip).judge_frame, frames),
    }
    us["map"], us["judge"] = us["map"] - us["decode"], us["judge"] - us["fold"]
    return _summed(us)


def _receive(receiver: Receiver, datagram: tuple[float, bytes]) -> None:
    """Decode and map one datagram."""
    recv_s, data = datagram
    receiver.receive(data, recv_s)


def _summed(us: dict[str, float], already_us: float = 0.0) -> list[PartCost]:
    """Add the parts up."""
    found: list[PartCost] = []
    for part, cost in us.items():
        already_us += cost
        found.append(PartCost(part, cost, already_us))
    return found


async def _paced(devices: Sequence[Device], sent: Datagrams) -> float:
    """Feed each device at 20 Hz, one after the other, with the ticks of a watch; give microseconds of the processor for a frame."""
    for device in devices:
        feed(device, sent[0][1], device.source.clock())  # binds every field and enters the first phase
    await asyncio.sleep(1.0)
    began_s, began_ns, apart_s = time.monotonic(), time.process_time_ns(), 1.0 / RATE_HZ / len(devices)
    due_s = 0.0
    for number, (_, data) in enumerate(sent[1:]):
        for device in devices:
            due_s += apart_s
            await asyncio.sleep(max(0.0, began_s + due_s - time.monotonic()))
            feed(device, data, device.source.clock())
            if number % round(RATE_HZ * TICK_S) == 0:
                device.runner.tick()
    return (time.process_time_ns() - began_ns) / 1e3 / (len(sent) - 1) / len(devices)


def panels_of(view_id: str) -> tuple[str, ...]:
    """Panels that a client of a view shows, those of every view too."""
    view = find_view(view_id)
    assert view is not None
    return ("head", "live_region", *view.panels, *view.aside)


class WatchParts:
    """Runs of a device with more and more of what a watch has.

    Attributes:
        names: The parts from the session on, in the order in which they are added.
        clients: Clients of the page, one for each device, of which a run has one kind: the views that they show in turn.
    """

    names = ("session", "record", "store", "publish", "page without a client")
    clients: Mapping[str, tuple[tuple[str, ...], ...]] = {
        "20 tablets, view of the instructor": (panels_of("instructor"),),
        "20 tablets, views of the crew": (panels_of("ahead"), panels_of("checklist")),
        "20 clients of all panels": (tuple(PANELS),),
    }

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    async def run(self, count: int, sent: Datagrams, clients: str = "") -> float:
        """Run with the first `count` parts, and with clients of a kind; give microseconds for a frame."""
        pack, trip = twin_jet()
        devices = [
            build_device(pack, trip, "udp://127.0.0.1:0", device_id=f"device_{n}") for n in range(DEVICES)
        ]
        parts, data = self.names[:count], DataDir(self._folder / f"{count} {clients}")
        data.create()
        registry = DeviceRegistry(devices)
        async with AsyncExitStack() as stack:
            enter = stack.enter_async_context
            if "store" in parts:
                await enter(store_sessions(devices, data.spool, store_url(data, ""), recorded=True))
            if "record" in parts:
                await enter(record_devices(devices, data.recordings, RecordingLimits(min_free_bytes=0)))
            if "publish" in parts:
                notifiers = make_notifiers(["udp-line://127.0.0.1:9"])
                await enter(notify_from_devices(registry, notifiers, Console(quiet=True), follow=False))
            if "page without a client" in parts:
                address = await enter(page_server(PageApp(registry, new_key()), "127.0.0.1", 0))
                if clients:
                    shown = islice(cycle(self.clients[clients]), len(devices))
                    stack.enter_context(_clients(address, tuple(shown)))
            freeze_heap()
            return await _paced(devices, sent)


@contextmanager
def _clients(address: str, shown: Sequence[Sequence[str]]) -> Iterator[None]:
    """Clients of the page, one for each device, in another process, each with the panels that it shows."""
    arguments = [sys.executable, "-c", CLIENT, address, *map(",".join, shown)]
    process = subprocess.Popen(arguments, stderr=subprocess.DEVNULL)
    try:
        yield
    finally:
        process.kill()
        process.wait()


def whole_watch(seconds: float) -> tuple[list[PartCost], list[PartCost]]:
    """Measure; give the peers, and the parts of a watch.

    Args:
        seconds: Real time of each of the runs at 20 Hz; also how many seconds of the flight the other parts take.
    """
    sent = sector_datagrams(int(seconds * RATE_HZ))
    freeze_heap()
    first = parts_before_the_session(sent)
    with tempfile.TemporaryDirectory() as folder:
        runs = WatchParts(Path(folder))
        totals = [asyncio.run(runs.run(n + 1, sent)) for n in range(len(WatchParts.names))]
        shown = {name: asyncio.run(runs.run(len(totals), sent, name)) for name in WatchParts.clients}
    before = [first[-1].total_us, *totals]
    later = [
        PartCost(name, total - earlier, total)
        for name, earlier, total in zip(WatchParts.names, before, totals, strict=False)
    ]
    shown_later = [PartCost(name, total - totals[-1], total) for name, total in shown.items()]
    return peers(sent), [*first, *later, *shown_later]


def lines(seconds: float) -> Iterator[str]:
    """Measure, and give a table of at most 80 columns."""
    yield from table_lines(*whole_watch(seconds))


def table_lines(compared: Sequence[PartCost], parts: Sequence[PartCost]) -> Iterator[str]:
    """Write the costs as a table, and whether the aim is met."""
    yield f"{'microseconds of the processor for a frame':<42}{'part':>10}{'in all':>10}"
    for part in (*compared, *parts):
        yield f"{part.part:<42}{part.us:>10.1f}{part.total_us:>10.1f}"
    all_in_us = next(part.total_us for part in parts if part.part == "publish")
    met = "met" if all_in_us < ALL_IN_AIM_US else "NOT MET"
    yield f"all in without a page: {all_in_us:.0f} us, aim < {ALL_IN_AIM_US:.0f} us: {met}"
    us = {part.part: part.us for part in parts}
    if "judge" in us:
        for name in WatchParts.clients:
            yield f"{name}: {us[name] / us['judge']:.2f} of judging"
    yield f"devices at 20 Hz on one core: {1e6 / RATE_HZ / all_in_us:.0f}, aim {DEVICES_AIM}"
