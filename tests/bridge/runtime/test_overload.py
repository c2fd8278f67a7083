"""A flight that is sent twenty times too fast to a program that stalls gives no error that it does not give at leisure.

Takes: a mock flight as datagrams.  Gives: tests with a manual clock and a reader that stops from time to time.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cache

import pytest

from adapters.encode.msgpack_map import MsgpackEncoder
from adapters.factory import receiver_for
from adapters.frame_source import FrameSource
from adapters.link_report import LinkState
from adapters.links.base import LinkLimits
from adapters.links.memory import MemoryLink
from bridge.runtime.device import Device
from bridge.runtime.runner import TICK_S
from bridge.session.input_signals import input_signals
from mock_sim.run import Flight
from rules.judge.events import DataMissing, JudgeEvent, Notice
from rules.packs.model import FindingKind, Pack
from rules.packs.trip_sheet import TripSheet
from tests.contract.waiting import ManualClock
from tests.shipped import shipped

SPEED = 20.0
RATE_HZ = 5.0
SLIPS = ("left_aft_pump_off", "trim_wrong")
Found = tuple[FindingKind, str, str]


@cache
def _rules() -> tuple[Pack, TripSheet]:
    return shipped("twin_jet")


@cache
def _datagrams() -> tuple[tuple[float, bytes], ...]:
    """The departure as datagrams with their time; each has the calls so far."""
    encoder, calls, sent = MsgpackEncoder(), dict[str, float](), list[tuple[float, bytes]]()
    for number, moment in enumerate(Flight("departure", SLIPS, rate_hz=RATE_HZ)):
        calls |= {f"call.{call.name}": call.sim_s for call in moment.calls}
        (data,) = encoder.encode(moment.sim_s, number, {**moment.state, **calls})
        sent.append((moment.sim_s, data))
    return tuple(sent)


@dataclass
class Watch:
    """One device on a link in memory; it reads only where `reads` allows, by the clock."""

    limits: LinkLimits = field(default_factory=LinkLimits)
    reads: Callable[[float], bool] = lambda _: True
    clock: ManualClock = field(default_factory=ManualClock)
    events: list[JudgeEvent] = field(default_factory=list)
    states: set[LinkState] = field(default_factory=set)

    async def fly(self, speed: float) -> Watch:
        """Send the flight, tick four times a second, and read the rest at the end."""
        pack, trip = _rules()
        link = MemoryLink(clock=self.clock, limits=self.limits)
        receiver = receiver_for(input_signals(pack), calls=tuple(pack.calls))
        self.device = Device(pack, trip, FrameSource(receiver, lambda: link, "memory", clock=self.clock))
        self.device.bus.subscribe(self.events.append, Notice, DataMissing)
        async with link:
            self.device.source.link = self.link = link
            await self._send(_datagrams(), speed)
            await self._read()
        return self

    async def _send(self, datagrams: Iterable[tuple[float, bytes]], speed: float) -> None:
        next_tick_s = 0.0
        for sim_s, data in datagrams:
            self.clock.now_s = sim_s / speed
            self.link.feed(data)
            if self.reads(self.clock.now_s):
                await self._read()
            while next_tick_s <= self.clock.now_s:
                next_tick_s += TICK_S
                self.device.runner.tick()
                self.states.add(self.device.link_report().state)

    async def _read(self) -> None:
        """Judge everything that waits."""
        while self.link.backlog:
            datagram = await anext(self.link)
            for frame in self.device.source.decode(datagram.data, datagram.recv_s, datagram.dropped):
                self.device.runner.judge_frame(frame)

    @property
    def found(self) -> list[Found]:
        """Each finding by kind, item and gate."""
        return [(f.kind, f.item, f.gate) for f in self.device.session.judge.findings]

    @property
    def gaps(self) -> list[DataMissing]:
        """The times for which data were missing."""
        return [event for event in self.events if isinstance(event, DataMissing)]


def _stalls(every_s: float, stall_s: float) -> Callable[[float], bool]:
    """Read, but not in the last part of every so many seconds."""
    return lambda now_s: now_s % every_s < every_s - stall_s


@pytest.fixture(scope="module")
def leisurely() -> Watch:
    """The same flight at its own speed, read at once."""
    return asyncio.run(Watch().fly(1.0))


async def test_stalls_change_nothing(leisurely: Watch) -> None:
    """A program that stands still for most of the time judges everything as at leisure, notice by notice."""
    watch = await Watch(reads=_stalls(30.0, 25.0)).fly(SPEED)
    assert watch.link.counts.dropped == 0
    assert LinkState.BEHIND in watch.states
    assert leisurely.found
    assert watch.found == leisurely.found
    assert watch.events == leisurely.events
    assert watch.gaps == []


@pytest.mark.parametrize(
    ("queued", "every_s", "stall_s"),
    [(20, 12.0, 9.0), (400, 12.0, 9.0), (60, 9.0, 7.2), (40, 26.0, 20.8), (2, 2.2, 1.5)],
)
async def test_what_is_dropped_gives_doubts_and_no_errors(
    leisurely: Watch, queued: int, every_s: float, stall_s: float
) -> None:
    """Beyond the bound the oldest are dropped: what they could have shown is not verifiable, never an error.

    An error that lasts may be found at a later gate, where the first one was passed in a gap.
    """
    watch = await Watch(LinkLimits(max_queued=queued), _stalls(every_s, stall_s)).fly(SPEED)
    assert watch.link.counts.dropped > 0
    assert watch.gaps
    errors = {(kind, item) for kind, item, _ in watch.found if kind is not FindingKind.NOT_VERIFIABLE}
    assert errors <= {(kind, item) for kind, item, _ in leisurely.found}
