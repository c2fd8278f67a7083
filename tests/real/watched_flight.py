"""One flight of a stock aeroplane in a separate process, received and judged here over a real socket.

Takes: kind of aeroplane, slips, options.  Gives: `WatchedFlight`: judge, its events, reception health, schedule events.
"""

from __future__ import annotations

import asyncio
import socket
import time
from asyncio.subprocess import PIPE
from collections.abc import Sequence
from contextlib import AsyncExitStack
from dataclasses import dataclass
from functools import cache

from adapters.factory import receiver_for
from adapters.links.base import LinkLimits
from adapters.links.udp import UdpLink
from adapters.mapping.load_map import MapFile, load_map
from adapters.receiver import Receiver
from adapters.reception_health import ReceptionHealth
from mock_sim.jsbsim.process.command import PACKS, ScheduleEvent, flight_command, parse_event
from rules.judge.events import Finding, JudgeEvent, Notice, PhaseEntered, Verdict, VerdictChanged
from rules.judge.judge import Judge
from rules.packs.load_pack import SHIPPED_DIR, load_pack
from rules.packs.model import Level, Pack
from rules.packs.trip_sheet import TripSheet, load_trip_sheet

SPEED = 160.0
LIMIT_S = 90.0
_END = b"end of the flight"


@dataclass(slots=True)
class WatchedFlight:
    """The judge, the reception and the events of one flight."""

    judge: Judge
    pack: Pack
    map_file: MapFile
    health: ReceptionHealth
    judge_events: list[JudgeEvent]
    events: list[ScheduleEvent]

    @property
    def phases(self) -> list[str]:
        """Return the phases in the order of their entry."""
        return [entry.phase for entry in self.judge_events if isinstance(entry, PhaseEntered)]

    @property
    def cautions_and_warnings(self) -> list[Notice]:
        """Return the notices of level caution or warning."""
        notices = [entry for entry in self.judge_events if isinstance(entry, Notice)]
        return [notice for notice in notices if notice.level is not Level.ADVISORY]

    @property
    def findings(self) -> list[Finding]:
        """Return all findings of the session."""
        return self.judge.findings

    def kinds_by_item(self) -> dict[str, str]:
        """Return the kind of finding by item or watch."""
        return {finding.item: str(finding.kind) for finding in self.findings}

    def entered_s(self, phase: str) -> float:
        """Return the time of the first entry of a phase, in seconds."""
        return next(e.sim_s for e in self.judge_events if isinstance(e, PhaseEntered) and e.phase == phase)

    def event_s(self, beginning: str) -> float:
        """Return the time of the first schedule event whose text starts with `beginning`, in seconds."""
        return next(event.sim_s for event in self.events if event.text.startswith(beginning))

    def items_ever_met(self) -> set[str]:
        """Return the items that were met at any time."""
        changes = (entry for entry in self.judge_events if isinstance(entry, VerdictChanged))
        return {entry.item for entry in changes if entry.verdict is Verdict.MET}

    def final_statuses(self) -> dict[str, str]:
        """Return the status of each item at the end."""
        return {name: str(item.status) for name, item in self.judge.snapshot().items.items()}


def watch(
    kind: str, slips: Sequence[str] = (), more: Sequence[str] = (), *, late: bool = False
) -> WatchedFlight:
    """Fly and judge one flight to its end.

    Args:
        kind: `jet` or `piston`.
        slips: ids of the pilot's slips.
        more: further options of the process.
        late: open the link only after the aeroplane has started to send.
    """
    pack, trip, map_file = _read(kind)
    receiver = receiver_for(pack.signals, map_file=map_file, link="stock")
    watched = WatchedFlight(Judge(pack, trip), pack, map_file, receiver.health, [], [])
    with asyncio.Runner(loop_factory=asyncio.SelectorEventLoop) as runner:
        runner.run(_fly(watched, receiver, (kind, slips, more), late=late))
    return watched


@cache
def _read(kind: str) -> tuple[Pack, TripSheet, MapFile]:
    """Load pack, trip sheet and map of an aeroplane, once for all flights."""
    pack_name, trip_name, map_name = PACKS[kind]
    trip = load_trip_sheet(SHIPPED_DIR / pack_name / trip_name)
    pack = load_pack(pack_name, trip=trip)
    return pack, trip, load_map(map_name, pack.signals)


async def _fly(
    watched: WatchedFlight,
    receiver: Receiver,
    flight: tuple[str, Sequence[str], Sequence[str]],
    *,
    late: bool,
) -> None:
    """Start the process and judge its datagrams until it has ended."""
    bounds = LinkLimits(
        max_queued=1 << 16, max_queued_bytes=1 << 30, is_essential=receiver.decoder.is_essential
    )
    link = UdpLink("127.0.0.1", _free_port(), clock=time.monotonic, limits=bounds)
    kind, slips, more = flight
    async with asyncio.timeout(LIMIT_S), AsyncExitStack() as stack:
        if not late:
            await stack.enter_async_context(link)
        command_line = flight_command(kind, link.port, SPEED, slips, more)
        process = await asyncio.create_subprocess_exec(*command_line, stdout=PIPE, stderr=PIPE)
        stack.callback(_kill, process)
        if late:
            await _next_event(process, watched)
            await stack.enter_async_context(link)
        async with asyncio.TaskGroup() as group:
            group.create_task(_judge_datagrams(link, receiver, watched))
            group.create_task(_follow_events(process, watched, link.port))


def _kill(process: asyncio.subprocess.Process) -> None:
    """End the process of a failed test."""
    if process.returncode is None:
        process.kill()


async def _judge_datagrams(link: UdpLink, receiver: Receiver, watched: WatchedFlight) -> None:
    """Judge every datagram until the end marker that we send ourselves."""
    async for datagram in link:
        if datagram.data == _END:
            return
        for frame in receiver.receive(datagram.data, datagram.recv_s):
            watched.judge_events += watched.judge.judge_frame(frame)


async def _follow_events(process: asyncio.subprocess.Process, watched: WatchedFlight, port: int) -> None:
    """Read the events to the end, then send the end marker after the last datagram."""
    while await _next_event(process, watched):
        pass
    assert process.stderr is not None
    error_output = (await process.stderr.read()).decode()
    assert await process.wait() == 0, error_output
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as last:
        last.sendto(_END, ("127.0.0.1", port))


async def _next_event(process: asyncio.subprocess.Process, watched: WatchedFlight) -> bool:
    """Read one more event; false at the end."""
    assert process.stdout is not None
    line = (await process.stdout.readline()).decode()
    event = parse_event(line)
    if event is not None:
        watched.events.append(event)
    return bool(line)


def _free_port() -> int:
    """Return a port that is free now."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
