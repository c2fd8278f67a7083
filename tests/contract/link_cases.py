"""Cases of the link suite: each link with a way to send to it.

A module of another package adds its own to `LINKS` when it is imported; see `third_party`.

Takes: a clock and limits.  Gives: `LINKS`.
"""

from __future__ import annotations

import asyncio
import socket
import struct
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from typing import TypeAlias

import zmq
import zmq.asyncio

from adapters.links.base import Link, LinkLimits
from adapters.links.framing import Framing
from adapters.links.memory import MemoryLink
from adapters.links.tcp import TcpClientLink, TcpServerLink
from adapters.links.udp import UdpLink
from adapters.links.zeromq import ZmqLink
from tests.contract.third_party import import_third_party
from tests.contract.waiting import ManualClock, wait_until

Send: TypeAlias = Callable[[bytes], Awaitable[None]]
LinkMaker: TypeAlias = Callable[[ManualClock, LinkLimits], AbstractAsyncContextManager[tuple[Link, Send]]]
"""Opens a link, and gives it with a function that sends it one datagram of any bytes."""

LINKS: dict[str, LinkMaker] = {}


@asynccontextmanager
async def _memory(clock: ManualClock, limits: LinkLimits) -> AsyncIterator[tuple[Link, Send]]:
    link = MemoryLink(clock=clock, limits=limits)

    async def send(data: bytes) -> None:
        link.feed(data)

    async with link:
        yield link, send


@asynccontextmanager
async def _udp(clock: ManualClock, limits: LinkLimits) -> AsyncIterator[tuple[Link, Send]]:
    link = UdpLink(clock=clock, limits=limits)
    async with link:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            yield link, _send_through(link, lambda data: sender.sendto(data, ("127.0.0.1", link.port)))


@asynccontextmanager
async def _multicast(clock: ManualClock, limits: LinkLimits) -> AsyncIterator[tuple[Link, Send]]:
    link = UdpLink("239.255.77.5", clock=clock, limits=limits)
    async with link:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            sender.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))
            sender.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_LOOP, 1)
            yield link, _send_through(link, lambda data: sender.sendto(data, ("239.255.77.5", link.port)))


@asynccontextmanager
async def _tcp_client(clock: ManualClock, limits: LinkLimits) -> AsyncIterator[tuple[Link, Send]]:
    writers: list[asyncio.StreamWriter] = []
    server = await asyncio.start_server(lambda _, writer: writers.append(writer), "127.0.0.1", 0)
    link = TcpClientLink(
        "127.0.0.1", server.sockets[0].getsockname()[1], framing=Framing.LENGTHS, clock=clock, limits=limits
    )
    try:
        async with link:
            await wait_until(lambda: bool(writers) and link.counts.connections == 1)
            yield link, _send_through(link, lambda data: writers[0].write(_with_length(data)))
    finally:
        for writer in writers:
            writer.close()
        server.close()


@asynccontextmanager
async def _tcp_server(clock: ManualClock, limits: LinkLimits) -> AsyncIterator[tuple[Link, Send]]:
    link = TcpServerLink(framing=Framing.LENGTHS, clock=clock, limits=limits)
    async with link:
        _, writer = await asyncio.open_connection("127.0.0.1", link.port)
        await wait_until(lambda: link.counts.connections == 1)
        yield link, _send_through(link, lambda data: writer.write(_with_length(data)))
        writer.close()


@asynccontextmanager
async def _zeromq(clock: ManualClock, limits: LinkLimits) -> AsyncIterator[tuple[Link, Send]]:
    context = zmq.asyncio.Context()
    publisher = context.socket(zmq.XPUB)
    publisher.setsockopt(zmq.LINGER, 0)
    port = publisher.bind_to_random_port("tcp://127.0.0.1")
    try:
        async with ZmqLink(f"tcp://127.0.0.1:{port}", topic="state", clock=clock, limits=limits) as link:
            await publisher.recv()  # the subscription has arrived, so that no message is lost from now on
            yield link, _send_through(link, lambda data: publisher.send_multipart([b"state", data]))
    finally:
        publisher.close()
        context.term()


def _send_through(link: Link, transmit: Callable[[bytes], object]) -> Send:
    """Make a function that sends a datagram and waits until the link has counted it."""

    async def send(data: bytes) -> None:
        counts = link.counts
        before = counts.received + counts.oversized
        result = transmit(data)
        if isinstance(result, Awaitable):
            await result
        await wait_until(lambda: counts.received + counts.oversized > before)

    return send


def _with_length(data: bytes) -> bytes:
    """Put the length before a message of a stream."""
    return struct.pack(">I", len(data)) + data


LINKS |= {
    "memory": _memory,
    "udp": _udp,
    "udp multicast": _multicast,
    "tcp client": _tcp_client,
    "tcp server": _tcp_server,
    "zeromq": _zeromq,
}

import_third_party()
