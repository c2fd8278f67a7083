"""`holdshort mock`: fly a mock aeroplane with a scripted crew and send its state.

Takes: a scenario, slips, and where and how to send.  Gives: datagrams, and the slips of the crew.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from typing import Annotated, Any

import msgspec
import typer

from adapters.decoders.base import FORMATS
from bridge.demo.wire_encoder import TEXT_FORMATS, make_encoder
from bridge.runtime.event_loop import run_async
from bridge.runtime.shutdown import run_unless_stopped, stop_on_signal
from mock_sim.run import Flight
from mock_sim.send.links import OutputAddress, make_output
from mock_sim.send.network_faults import NetworkFaults, parse_network_faults
from mock_sim.send.sender import send_flight
from rules.faults import Fault, InputFaults, Place
from rules.source import unknown_fault
from rules.words import join_or


@dataclass(frozen=True, slots=True)
class SendOptions:
    """Where and how a flight is sent."""

    address: OutputAddress
    wire_format: str
    speed: float
    seed: int
    network_faults: NetworkFaults


def mock(
    *,
    to: Annotated[
        str, typer.Option("--to", help="Where to send: udp://, tcp://, tcp-listen:// or zmq://HOST:PORT.")
    ],
    scenario: Annotated[str, typer.Option(help="A scenario that we ship, or its folder.")] = "departure",
    slip: Annotated[
        list[str] | None,
        typer.Option("--slip", metavar="ID", help="An error of the crew: an id, demo or all."),
    ] = None,
    event: Annotated[
        list[str] | None,
        typer.Option("--event", metavar="ID", help="An event that is no error of the crew."),
    ] = None,
    wire_format: Annotated[
        str, typer.Option("--format", help=f"Wire format: {', '.join(FORMATS)}.")
    ] = "msgpack",
    rate: Annotated[float, typer.Option(help="Frames in a simulated second.", min=1, max=100)] = 10.0,
    speed: Annotated[
        float, typer.Option(help="Simulated seconds in a real one; 0 is as fast as possible.", min=0)
    ] = 1.0,
    seed: Annotated[int, typer.Option(help="Makes noise, the crew's pace and network faults.")] = 0,
    network_faults: Annotated[
        str, typer.Option(help="Network faults: loss=0.05,duplicate=0.01,jitter_s=0.2.")
    ] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print the slips and the summary as JSON.")] = False,
) -> None:
    """Fly the mock aeroplane and send its state."""
    if wire_format not in FORMATS:
        raise InputFaults(
            [unknown_fault(Place("--format"), "format", wire_format, FORMATS, join_or(FORMATS))]
        )
    sending = SendOptions(_address(to), wire_format, speed, seed, parse_network_faults(network_faults))
    flight = Flight(scenario, slip or [], seed, events=event or [], rate_hz=rate)
    sent = run_async(_send(flight, sending))
    if sent is None:
        typer.echo("stopped before the end of the flight", err=True)
        raise typer.Exit(1)
    slips = [slipped.as_dict() for slipped in flight.slip_records()]
    if as_json:
        sys.stdout.write(msgspec.json.encode({"slips": slips, "summary": sent}).decode() + "\n")
        return
    typer.echo(f"sent {sent['frames']} frames in {sent['datagrams']} datagrams")
    if sent["refused"]:
        typer.echo(f"{sent['refused']} of them were refused: no receiver at {to}", err=True)
    for slipped in slips:
        typer.echo(f"  {slipped['sim_s']:7.1f} s  {slipped['seat']:14} {slipped['sentence']}")


def _address(to: str) -> OutputAddress:
    """Parse the address; port 0 is refused, since no receiver could know the real port."""
    address = OutputAddress.parse(to)
    if address.port == 0:
        raise InputFaults([Fault(Place(to), "port 0 cannot be reached", "a port from 1 to 65535")])
    return address


async def _send(flight: Flight, sending: SendOptions) -> dict[str, Any] | None:
    """Send the flight and return the counters; None if it was stopped."""
    encoder = make_encoder(sending.wire_format)
    with stop_on_signal() as stop:
        async with make_output(sending.address, lines=sending.wire_format in TEXT_FORMATS) as out:
            sent = await run_unless_stopped(
                stop,
                send_flight(
                    flight,
                    encoder,
                    [out],
                    speed=sending.speed,
                    network_faults=sending.network_faults,
                    seed=sending.seed,
                ),
            )
    return None if sent is None else sent.as_dict() | {"refused": out.refused_count}
