"""Send a flight: its frames, encoded, spoilt if asked for, at its pace, over one or more links.

Takes: a flight, an encoder, links that are open.  Gives: datagrams on the wire, and a sum of what was sent.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import AsyncExitStack
from dataclasses import dataclass
from typing import Protocol

from mock_sim.run import Flight
from mock_sim.send.formats import LINE_FORMATS, encoder_for
from mock_sim.send.frames import ClockJump, ClockPause, FlightFrames, call_names
from mock_sim.send.links import OutputAddress, OutputLink, make_output
from mock_sim.send.network_faults import FaultInjector, NetworkFaults
from mock_sim.send.pacer import Clock, SendPacer, WallClock
from rules.signals.model import Value


class RecordEncoder(Protocol):
    """One wire format, as a sender writes it."""

    def encode(self, time_s: float, number: int, values: Mapping[str, Value | None], /) -> list[bytes]:
        """Write one record as datagrams."""


@dataclass(frozen=True, slots=True)
class SendSummary:
    """What went out: frames made, datagrams sent, mischief done by kind, and how late the sender was at worst."""

    frames: int
    datagrams: int
    network_faults: Mapping[str, int]
    late_s: float

    def as_dict(self) -> dict[str, object]:
        """What went out as plain data, for JSON."""
        return {
            "frames": self.frames,
            "datagrams": self.datagrams,
            "network_faults": self.network_faults,
            "late_s": self.late_s,
        }


async def send_flight(
    flight: Flight,
    encoder: RecordEncoder,
    outputs: Sequence[OutputLink],
    *,
    speed: float = 1.0,
    network_faults: NetworkFaults | None = None,
    seed: int = 0,
    clock_faults: Sequence[ClockPause | ClockJump] = (),
    clock: Clock | None = None,
) -> SendSummary:
    """Send a whole flight.

    Args:
        flight: not yet begun.
        encoder: the wire format.
        outputs: links that are open; each gets everything.
        speed: seconds of the flight in one of the wall; 0: as fast as possible.
        network_faults: what the network does to the datagrams.
        seed: makes the mischief.
        clock_faults: of the clock that is sent.
        clock: what is waited on; the wall's if none.

    Returns:
        What was sent.

    Raises:
        StuckError: the flight did not come to its end.
    """
    spoiler = FaultInjector(network_faults or NetworkFaults(), seed)
    pace = SendPacer(speed, clock or WallClock())
    frames = datagrams = 0
    for frame in FlightFrames(flight.scenario, flight, rate_hz=flight.rate_hz, clock_faults=clock_faults):
        datagrams += await _flush(spoiler, frame.due_s, pace, outputs)
        await pace.wait_until(frame.due_s)
        for data in encoder.encode(frame.clock_s, frame.number, frame.fields):
            spoiler.add(frame.due_s, data)
        datagrams += await _flush(spoiler, frame.due_s, pace, outputs)
        frames += 1
    for due_s, data in spoiler.remaining():
        await pace.wait_until(due_s)
        datagrams += await _send(data, outputs)
    return SendSummary(frames, datagrams, dict(spoiler.counts), pace.late_s)


async def send_to(
    flight: Flight,
    addresses: Sequence[OutputAddress | str],
    wire: str = "json",
    *,
    speed: float = 1.0,
    network_faults: NetworkFaults | None = None,
    seed: int = 0,
    clock_faults: Sequence[ClockPause | ClockJump] = (),
) -> SendSummary:
    """Open the links, send a whole flight, and close them.

    Args:
        flight: not yet begun.
        addresses: where to send, such as `udp://127.0.0.1:5501`; each gets everything.
        wire: the wire format.
        speed: as for `send_flight`.
        network_faults: as for `send_flight`.
        seed: as for `send_flight`.
        clock_faults: as for `send_flight`.

    Returns:
        What was sent.

    Raises:
        InputFaults: an address or format that is none.
        LinkError: a link could not be opened.
    """
    encoder = encoder_for(wire, flight.aeroplane.panel.signals, call_names(flight.scenario))
    async with AsyncExitStack() as stack:
        outs = [
            await stack.enter_async_context(make_output(address, lines=wire in LINE_FORMATS))
            for address in addresses
        ]
        return await send_flight(
            flight,
            encoder,
            outs,
            speed=speed,
            network_faults=network_faults,
            seed=seed,
            clock_faults=clock_faults,
        )


async def _flush(
    injector: FaultInjector, until_s: float, pace: SendPacer, outputs: Sequence[OutputLink]
) -> int:
    """Send what is due by now, each at its own time; how many."""
    count = 0
    for due_s, data in injector.due(until_s):
        await pace.wait_until(due_s)
        count += await _send(data, outputs)
    return count


async def _send(data: bytes, outputs: Sequence[OutputLink]) -> int:
    """Send one datagram over every link."""
    for out in outputs:
        await out.send(data)
    return 1
