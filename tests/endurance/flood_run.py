"""Sends hostile packets to the port at which a watch judges a good sender, and measures what becomes of both.

Takes: a folder, a number of packets.  Gives: `FloodMeasurements`.
"""

from __future__ import annotations

import asyncio
import socket
import sys
import time
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import msgpack

from mock_sim.run import Flight
from mock_sim.send.formats import encoder_for
from mock_sim.send.frames import FlightFrames
from tests.endurance.link_panel import LinkCounters
from tests.endurance.measurements import FloodMeasurements, WatchSample
from tests.endurance.process_usage import socket_queue
from tests.endurance.watch_under_test import WatchUnderTest, run_watch_under_test
from tests.false_alarms.simulated_flight import PACKS

DEVICE = "jet"
SCENARIO = "departure"
GOOD_HZ = 20.0
"""Good frames of a second, simulated and real."""
ALONE = 20
"""Good frames before the first hostile packet; after five of them the sender is chosen."""
GOOD_LINES = PACKS[SCENARIO]


class GoodSender:
    """Sends the frames of a departure at its own pace, again from its end on with a clock that goes on."""

    def __init__(self, watch: WatchUnderTest, seed: int) -> None:
        """Open a socket; `close` closes it."""
        self.count = 0
        self._watch, self._began_s = watch, 0.0
        self._states = _states(seed)
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.connect(("127.0.0.1", watch.ports[DEVICE]))

    def close(self) -> None:
        """Close the socket."""
        self._socket.close()

    async def send_next(self) -> None:
        """Send the next frame at its time; one that is late is sent at once."""
        sim_s, data = next(self._states)
        self._began_s = self._began_s or time.monotonic()
        await asyncio.sleep(max(0.0, self._began_s + sim_s - time.monotonic()))
        self._watch.note_sending(DEVICE, sim_s)
        self._socket.send(data)
        self.count += 1


def _states(seed: int) -> Iterator[tuple[float, bytes]]:
    """Give time and bytes of each frame; after the end of the flight its last state, with the time going on."""
    encoder = encoder_for("msgpack")
    flight = Flight(SCENARIO, seed=seed, rate_hz=GOOD_HZ)
    for frame in FlightFrames(flight.scenario, flight, rate_hz=GOOD_HZ):
        (data,) = encoder.encode(frame.clock_s, frame.number, frame.fields)
        yield frame.clock_s, data
    for number in count(1):
        sim_s = frame.clock_s + number / GOOD_HZ
        (data,) = encoder.encode(sim_s, frame.number + number, frame.fields)
        yield sim_s, data


def good_packets(seed: int, number: int = 40) -> list[bytes]:
    """Give the first packets of another flight, to be sent by a stranger."""
    states = _states(seed)
    return [next(states)[1] for _ in range(number)]


async def run_flood(
    folder: Path,
    *,
    packets: int,
    rate: int = 0,
    seed: int,
    sample_s: float = 10.0,
    on_sample: Callable[[WatchSample], None] = lambda _: None,
) -> FloodMeasurements:
    """Run a watch, a good sender, and hostile packets beside it.

    Args:
        folder: Where the data of the watch go.
        packets: Hostile packets.
        rate: Hostile packets of a second; 0 for as many as the system takes.
        seed: Gives the flight and the packets.
        sample_s: Seconds between two measurements.
        on_sample: Called with each measurement.
    """
    measured = FloodMeasurements()
    async with run_watch_under_test(folder, {DEVICE: GOOD_LINES}) as (watch, reading):
        sender = GoodSender(watch, seed)
        try:
            for _ in range(ALONE):
                await sender.send_next()
            hostile = asyncio.create_task(_send_hostile(watch.ports[DEVICE], packets, seed, rate))
            await _send_good(watch, sender, hostile, measured, sample_s, on_sample)
            measured.hostile, measured.took_s = hostile.result()
            now = await _until_read(watch, sender)
        finally:
            sender.close()
        _take_counters(measured, watch, now, sender.count)
        measured.system_dropped = socket_queue(watch.ports[DEVICE]).dropped
        measured.end = await watch.end(reading)
    measured.answers_s, measured.delays_s = watch.answers_s, watch.delays_s
    measured.resets += sum(" RESET " in line for line in watch.lines)
    return measured


async def _send_hostile(port: int, packets: int, seed: int, rate: int) -> tuple[int, float]:
    """Run the sender of hostile packets; give their number, and the seconds."""
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "tests.endurance.hostile_sender", *map(str, (port, packets, seed, rate)),
        stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE,
    )  # fmt: skip
    try:
        out, _ = await process.communicate(msgpack.packb(good_packets(seed + 1)))
    finally:
        if process.returncode is None:
            process.kill()
    number, _, took_s = out.decode().partition(" ")
    return int(number), float(took_s)


async def _send_good(
    watch: WatchUnderTest,
    sender: GoodSender,
    hostile: asyncio.Task[tuple[int, float]],
    measured: FloodMeasurements,
    sample_s: float,
    on_sample: Callable[[WatchSample], None],
) -> None:
    """Send good frames and measure while hostile packets come."""
    measuring = asyncio.create_task(_measure(watch, sender, measured, sample_s, on_sample))
    try:
        while not hostile.done():
            await sender.send_next()
    finally:
        measuring.cancel()
        await asyncio.gather(measuring, return_exceptions=True)


async def _measure(
    watch: WatchUnderTest,
    sender: GoodSender,
    measured: FloodMeasurements,
    sample_s: float,
    on_sample: Callable[[WatchSample], None],
) -> None:
    """Measure until cancelled, beside the good sender: one that waits for an answer would be silent, and another be chosen."""
    while True:
        measured.samples.append(sample := await watch.sample(sender.count / GOOD_HZ))
        on_sample(sample)
        await asyncio.sleep(sample_s)


async def _until_read(watch: WatchUnderTest, sender: GoodSender) -> LinkCounters:
    """Go on with good frames until nothing waits any more and the counters stand; give these."""
    follower, port = watch.followers[DEVICE], watch.ports[DEVICE]
    refused, same = -1, 0
    while same < ALONE or socket_queue(port).waiting_bytes:
        await sender.send_next()
        now = follower.now.count("Refused")
        refused, same = now, same + 1 if now == refused else 0
    last = sender.count
    for _ in range(ALONE):
        now_counters = await follower.next_counters()
        if now_counters.count("Frames") >= last:
            break
    return follower.now


def _take_counters(measured: FloodMeasurements, watch: WatchUnderTest, now: LinkCounters, good: int) -> None:
    measured.good = (good, now.count("Frames"))
    measured.dropped, measured.resets = now.count("Dropped"), now.count("Resets")
    measured.refusals, measured.false_words = now.refusals, watch.followers[DEVICE].false_words
