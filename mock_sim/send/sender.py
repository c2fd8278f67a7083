"""Sends a flight: encodes its frames, applies network faults, keeps the pace, over one or more links.

Takes: a flight, an encoder, open links.  Gives: datagrams on the wire, and a summary.
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
    """An encoder of one wire format."""

    def encode(self, time_s: float, number: int, values: Mapping[str, Value | None], /) -> list[bytes]:
        """Write one record as datagrams."""


@dataclass(frozen=True, slots=True)
class SendSummary:
    """Counts of a sent flight: frames, datagrams, network faults by kind, and the longest delay."""

    frames: int
    datagrams: int
    network_faults: Mapping[str, int]
    late_s: float

    def as_dict(self) -> dict[str, object]:
        """Return the summary as plain data, for JSON."""
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
        flight: before its first moment.
        encoder: the wire format.
        outputs: open links; each gets every datagram.
        speed: simulated seconds in a real second; 0: as fast as possible.
        network_faults: faults to apply to the datagrams.
        seed: gives the network faults.
        clock_faults: pauses and jumps of the sent clock.
        clock: waited on; default: the wall clock.

    Returns:
        The summary.

    Raises:
        StuckError: the flight did not end.
    """
    injector = FaultInjector(network_faults or NetworkFaults(), seed)
    pace = SendPacer(speed, clock or WallClock())
    frames = datagrams = 0
    for frame in FlightFrames(flight.scenario, flight, rate_hz=flight.rate_hz, clock_faults=clock_faults):
        datagrams += await _flush(injector, frame.due_s, pace, outputs)
        await pace.wait_until(frame.due_s)
        for data in encoder.encode(frame.clock_s, frame.number, frame.fields):
            injector.add(frame.due_s, data)
        datagrams += await _flush(injector, frame.due_s, pace, outputs)
        frames += 1
    for due_s, data in injector.remaining():
        await pace.wait_until(due_s)
        datagrams += await _send(data, outputs)
    return SendSummary(frames, datagrams, dict(injector.counts), pace.late_s)


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
        flight: before its first moment.
        addresses: where to send, such as `udp://127.0.0.1:5501`; each gets every datagram.
        wire: the wire format.
        speed: as for `send_flight`.
        network_faults: as for `send_flight`.
        seed: as for `send_flight`.
        clock_faults: as for `send_flight`.

    Returns:
        The summary.

    Raises:
        InputFaults: an unknown address or format.
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
    """Send every datagram that is due, each at its own time; return the count."""
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
