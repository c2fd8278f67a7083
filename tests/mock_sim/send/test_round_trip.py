"""Tests of the sender's links against the bridge's: each kind receives exactly what was sent."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import AsyncIterator
from contextlib import AsyncExitStack

import pytest

from adapters.links.base import Datagram, Link
from adapters.links.framing import Framing
from adapters.links.tcp import TcpClientLink, TcpServerLink
from adapters.links.udp import UdpLink
from adapters.links.zeromq import ZmqLink
from mock_sim.run import Flight
from mock_sim.send import FlightFrames, OutputLink, make_output
from mock_sim.send.formats import LINE_FORMATS, encoder_for


def free_port() -> int:
    """Return an unused port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def frame(wire: str) -> bytes:
    """The first frame of the departure, without a heading."""
    flight = Flight(rate_hz=10, noise=False)
    first = next(iter(FlightFrames(flight.scenario, flight)))
    return encoder_for(wire, flight.aeroplane.panel.signals).encode(
        first.clock_s, first.number, first.fields
    )[-1]


async def joined(kind: str, framing: Framing, stack: AsyncExitStack) -> tuple[Link, OutputLink]:
    """Both ends of a link of one kind, the one that listens opened first."""
    lines = framing is Framing.LINES
    if kind == "udp":
        udp = await stack.enter_async_context(UdpLink())
        return udp, await stack.enter_async_context(make_output(f"udp://127.0.0.1:{udp.port}"))
    if kind == "tcp":
        server = await stack.enter_async_context(TcpServerLink(framing=framing))
        out = make_output(f"tcp://127.0.0.1:{server.port}", lines=lines)
        return server, await stack.enter_async_context(out)
    port = free_port()
    out = await stack.enter_async_context(make_output(f"{kind}://127.0.0.1:{port}", lines=lines))
    link: Link = ZmqLink(f"tcp://127.0.0.1:{port}")
    if kind == "tcp-listen":
        link = TcpClientLink("127.0.0.1", port, framing=framing)
    return await stack.enter_async_context(link), out


async def arrives(link: Link, out: OutputLink, data: bytes) -> bytes:
    """Send until something arrives; a subscriber or client may not have joined at first."""
    iterator: AsyncIterator[Datagram] = aiter(link)
    waiting = asyncio.ensure_future(anext(iterator))
    while not waiting.done():
        await out.send(data)
        await asyncio.wait([waiting], timeout=0.05)
    return waiting.result().data


@pytest.mark.parametrize("wire", ["json", "packed_struct"])
@pytest.mark.parametrize("kind", ["udp", "tcp", "tcp-listen", "zmq"])
async def test_messages_arrive_unchanged(kind: str, wire: str) -> None:
    """A frame arrives unchanged to the byte, as text and as binary; a line arrives without its line end."""
    data = frame(wire)
    framing = Framing.LINES if wire in LINE_FORMATS else Framing.LENGTHS
    async with AsyncExitStack() as stack:
        link, out = await joined(kind, framing, stack)
        assert (await arrives(link, out, data)).rstrip(b"\n") == data.rstrip(b"\n")
