"""Sends simulated hours of flights to a watch that records, stores, notifies and serves clients, and measures it.

Takes: a folder, hours, a limit of the recordings.  Gives: `FlightMeasurements`.
"""

from __future__ import annotations

import asyncio
import math
import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import AsyncExitStack
from pathlib import Path

from sqlalchemy import func, select

from bridge.recording.recording_budget import list_recordings
from bridge.runtime.data_dir import DataDir
from bridge.session.requests import Request
from bridge.store import schema
from bridge.store.database import read_existing_store, store_url
from mock_sim.run import Flight, StuckError
from mock_sim.send.formats import encoder_for
from mock_sim.send.frames import FlightFrames
from mock_sim.send.network_faults import FaultInjector
from tests.browser.stream_clients import StreamClient, stalled_clients
from tests.endurance.closed_loop import ClosedLoopSender
from tests.endurance.flight_plan import DEVICES, PlannedFlight, plan_flights
from tests.endurance.measurements import FlightMeasurements, WatchSample
from tests.endurance.watch_under_test import WatchUnderTest, run_watch_under_test

WIRE = "msgpack"
SAMPLE_S = 10.0
CLIENTS = 3
FOLLOWED = "jet"
"""The device that the clients follow."""
REJUDGED = 4
"""Recordings that are judged again at the end, the newest; judging takes about a hundredth of their time."""


class LineListener(asyncio.DatagramProtocol):
    """Counts the lines that the watch's output sends."""

    def __init__(self) -> None:
        self.count = 0

    def datagram_received(self, data: bytes, addr: tuple[str, int]) -> None:  # noqa: ARG002 - the interface
        """Count a line, and as many as it says were lost."""
        self.count += 1


class FlightRun:
    """A run of flights; `measured` grows while it runs."""

    def __init__(
        self, watch: WatchUnderTest, hours: float, rate_hz: float, sample_s: float, until_s: float
    ) -> None:
        self.measured = FlightMeasurements()
        self.flown_s = 0.0
        self.on_sample: Callable[[WatchSample], None] = lambda _: None
        self.senders = {device: ClosedLoopSender(watch, device) for device in DEVICES}
        self.faults: Counter[str] = Counter()
        self._watch, self._hours, self._rate_hz, self._sample_s = watch, hours, rate_hz, sample_s
        self._next_sample_s, self._until_s = time.monotonic(), until_s

    def close(self) -> None:
        """Close the sockets."""
        for sender in self.senders.values():
            sender.close()

    async def fly_all(self, seed: int) -> None:
        """Send flights until the hours, or the time for them, are over."""
        for planned in plan_flights(seed):
            if planned.new_session and self.measured.flights:
                await self._watch.request(Request("start_session", "", device=planned.device))
            self._watch.begin_flight(planned.device)
            try:
                await self._fly(planned)
            except StuckError as stuck:
                self.measured.stuck += 1
                self.measured.problems.append(str(stuck))
            self.measured.flights += 1
            await self.senders[planned.device].until_counted()
            if self._is_over:
                break
        await self._measure()

    @property
    def _is_over(self) -> bool:
        return self.flown_s >= self._hours * 3600.0 or time.monotonic() >= self._until_s

    async def _fly(self, planned: PlannedFlight) -> None:
        """Send one flight over its network."""
        sender, began_s = self.senders[planned.device], self.flown_s
        flight = Flight(
            planned.scenario, [planned.slip] if planned.slip else (), planned.seed, rate_hz=self._rate_hz
        )
        encoder, injector = encoder_for(WIRE), FaultInjector(planned.network, planned.seed)
        for frame in FlightFrames(flight.scenario, flight, rate_hz=self._rate_hz):
            self.flown_s = began_s + frame.due_s
            for data in encoder.encode(frame.clock_s, frame.number, frame.fields):
                injector.add(frame.due_s, data)
            for _, data in injector.due(frame.due_s):
                self._watch.note_sending(planned.device, frame.clock_s)
                await sender.send(data)
            await asyncio.sleep(0)
            if time.monotonic() >= self._next_sample_s:
                await self._measure()
            if self._is_over:
                break
        for _, data in injector.remaining():
            await sender.send(data)
        self.faults += injector.counts

    async def _measure(self) -> None:
        """Take a sample, and set the time of the next."""
        sample = await self._watch.sample(self.flown_s)
        self.measured.samples.append(sample)
        self.on_sample(sample)
        self._next_sample_s = time.monotonic() + self._sample_s


async def run_flights(
    folder: Path,
    *,
    hours: float,
    minutes: float = math.inf,
    rate_hz: float,
    seed: int,
    recordings_limit_mb: float,
    sample_s: float = SAMPLE_S,
    on_sample: Callable[[WatchSample], None] = lambda _: None,
) -> FlightMeasurements:
    """Run a watch and send it flights.

    Args:
        folder: Where the data of the watch go.
        hours: Simulated hours.
        minutes: Real minutes after which no frame is sent.
        rate_hz: Frames of a simulated second.
        seed: Gives flights and networks.
        recordings_limit_mb: The limit of the recordings.
        sample_s: Seconds between two measurements.
        on_sample: Called with each measurement.
    """
    loop = asyncio.get_running_loop()
    transport, listener = await loop.create_datagram_endpoint(LineListener, local_addr=("127.0.0.1", 0))
    output = f"udp-line://127.0.0.1:{transport.get_extra_info('sockname')[1]}"
    more = ("--notify", output, "--recordings-limit", str(recordings_limit_mb / 1000))
    try:
        async with AsyncExitStack() as stack:
            watch, reading = await stack.enter_async_context(run_watch_under_test(folder, DEVICES, *more))
            await stack.enter_async_context(stalled_clients(watch.page, 1, FOLLOWED))
            clients = [asyncio.create_task(StreamClient().read(watch.page, FOLLOWED)) for _ in range(CLIENTS)]
            stack.push_async_callback(_end_clients, clients)
            until_s = time.monotonic() + 60.0 * minutes
            run = FlightRun(watch, hours, rate_hz, sample_s, until_s)
            run.on_sample = on_sample
            stack.callback(run.close)
            await run.fly_all(seed)
            measured = run.measured
            measured.datagrams = _datagrams(run, watch)
            measured.lost = (
                sum(each.now.count("Lost") for each in watch.followers.values()),
                run.faults["loss"] + run.faults["corrupt"] + run.faults["truncate"] + run.faults["reorder"],
            )
            measured.end = await watch.end(reading)
    finally:
        transport.close()
    measured.lines, measured.recordings_limit_mb = listener.count, recordings_limit_mb
    _add_after_end(measured, watch)
    return measured


async def _end_clients(clients: Sequence[asyncio.Task[None]]) -> None:
    """End clients that the watch has not ended."""
    for client in clients:
        client.cancel()
    await asyncio.gather(*clients, return_exceptions=True)


def _datagrams(run: FlightRun, watch: WatchUnderTest) -> tuple[int, int]:
    counted = sum(follower.now.count("Datagrams") for follower in watch.followers.values())
    return sum(sender.count for sender in run.senders.values()), counted


def _add_after_end(measured: FlightMeasurements, watch: WatchUnderTest) -> None:
    """Add what is known when the watch has ended: its lines, its store, its recordings."""
    measured.answers_s, measured.delays_s = watch.answers_s, watch.delays_s
    measured.problems += watch.problems()
    measured.behind = sum("s behind:" in line for line in watch.lines)
    printed, stored = watch.printed_counts(), stored_counts(watch.folder)
    measured.findings, measured.notices = (printed[0], stored[0]), (printed[1], stored[1])


def stored_counts(folder: Path) -> tuple[int, int]:
    """Count the findings and the notices of the store in a data folder."""
    with read_existing_store(store_url(DataDir(folder))) as connection:
        if connection is None:
            return 0, 0
        counts = [
            connection.execute(select(func.count()).select_from(table)).scalar_one()
            for table in (schema.finding, schema.notice)
        ]
    return counts[0], counts[1]


async def rejudge_newest(folder: Path, most: int = REJUDGED) -> dict[str, bool]:
    """Judge the newest recordings of a data folder again, each in a process of its own; True where nothing differs."""
    results = {}
    for recording in list_recordings(DataDir(folder).recordings)[-most:]:
        process = await asyncio.create_subprocess_exec(
            sys.executable, "-m", "bridge", "rejudge", str(recording.parts[0]), "--json",
            stdout=asyncio.subprocess.DEVNULL, stderr=asyncio.subprocess.PIPE,
        )  # fmt: skip
        _, errors = await process.communicate()
        results[f"{recording.stem} ({len(recording.parts)} parts)"] = not process.returncode and not errors
    return results
