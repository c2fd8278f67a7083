"""Everything that the two suites run on: links and decoders, ours and those of others.

A third party's module adds its own to `LINKS` and `DECODERS` when it is imported; the environment variable
`HOLDSHORT_CONTRACT` names such modules, parted by commas:

    HOLDSHORT_CONTRACT=my_package.contract python -m pytest tests/contract
"""

from __future__ import annotations

import asyncio
import importlib
import os
import socket
import struct
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import dataclass
from typing import TypeAlias

import zmq
import zmq.asyncio

from adapters.decoders.base import Decoder, RawValue
from adapters.decoders.json_text import JsonDecoder
from adapters.decoders.key_value import KeyValueDecoder
from adapters.decoders.labelled_csv import LabelledCsvDecoder
from adapters.decoders.msgpack_map import MsgpackDecoder
from adapters.decoders.packed_struct import PackedStructDecoder
from adapters.decoders.struct_layout import Endian, StructField, StructLayout
from adapters.encode.base import Encoder
from adapters.encode.msgpack_map import MsgpackEncoder
from adapters.encode.packed_struct import PackedStructEncoder
from adapters.encode.text import JsonEncoder, KeyValueEncoder, LabelledCsvEncoder
from adapters.links.base import Link, LinkLimits
from adapters.links.framing import Framing
from adapters.links.memory import MemoryLink
from adapters.links.tcp import TcpClientLink, TcpServerLink
from adapters.links.udp import UdpLink
from adapters.links.zeromq import ZmqLink
from tests.contract.waiting import ManualClock, wait_until

Send: TypeAlias = Callable[[bytes], Awaitable[None]]
LinkMaker: TypeAlias = Callable[[ManualClock, LinkLimits], AbstractAsyncContextManager[tuple[Link, Send]]]
"""Gives an open link with nothing received, and a way to send it one datagram of any bytes."""

LINKS: dict[str, LinkMaker] = {}


@dataclass(frozen=True, slots=True)
class DecoderCase:
    """A decoder with its inverse.

    `fields` are what a round trip is made with; `nothing` is a field whose None the format can say; `rejects_cuts`:
    whether every record that was cut short can be told from a whole one.
    """

    decoder: Callable[[], Decoder]
    encoder: Callable[[], Encoder]
    fields: dict[str, RawValue]
    rejects_cuts: bool


TABLE = StructLayout(
    Endian.LITTLE,
    (StructField("magic", "text:4"), StructField("length", "u16"), StructField("sequence", "u32"), StructField("time", "f64"), StructField("validity", "u8")),
    (StructField("n2", "f64", 0), StructField("gear", "text:6", 1), StructField("count", "i32", 2), StructField("on", "bool", 3)),
    magic=b"LMRE",
)  # fmt: skip
_FIELDS: dict[str, RawValue] = {"n2": 61.25, "gear": "down", "count": 3, "on": True}

DECODERS: dict[str, DecoderCase] = {
    "labelled_csv": DecoderCase(LabelledCsvDecoder, LabelledCsvEncoder, _FIELDS, rejects_cuts=False),
    "key_value": DecoderCase(KeyValueDecoder, KeyValueEncoder, _FIELDS, rejects_cuts=False),
    "json": DecoderCase(JsonDecoder, JsonEncoder, _FIELDS, rejects_cuts=True),
    "msgpack": DecoderCase(MsgpackDecoder, MsgpackEncoder, _FIELDS, rejects_cuts=True),
    "packed_struct": DecoderCase(
        lambda: PackedStructDecoder(TABLE), lambda: PackedStructEncoder(TABLE), _FIELDS, rejects_cuts=True
    ),
}


@asynccontextmanager
async def _memory(clock: ManualClock, bounds: LinkLimits) -> AsyncIterator[tuple[Link, Send]]:
    link = MemoryLink(clock=clock, limits=bounds)

    async def send(data: bytes) -> None:
        link.feed(data)

    async with link:
        yield link, send


@asynccontextmanager
async def _udp(clock: ManualClock, bounds: LinkLimits) -> AsyncIterator[tuple[Link, Send]]:
    link = UdpLink(clock=clock, limits=bounds)
    async with link:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            yield link, _send_through(link, lambda data: sender.sendto(data, ("127.0.0.1", link.port)))


@asynccontextmanager
async def _multicast(clock: ManualClock, bounds: LinkLimits) -> AsyncIterator[tuple[Link, Send]]:
    link = UdpLink("239.255.77.5", clock=clock, limits=bounds)
    async with link:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            sender.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))
            sender.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_LOOP, 1)
            yield link, _send_through(link, lambda data: sender.sendto(data, ("239.255.77.5", link.port)))


@asynccontextmanager
async def _tcp_client(clock: ManualClock, bounds: LinkLimits) -> AsyncIterator[tuple[Link, Send]]:
    writers: list[asyncio.StreamWriter] = []
    server = await asyncio.start_server(lambda _, writer: writers.append(writer), "127.0.0.1", 0)
    link = TcpClientLink(
        "127.0.0.1", server.sockets[0].getsockname()[1], framing=Framing.LENGTHS, clock=clock, limits=bounds
    )
    try:
        async with link:
            await wait_until(lambda: bool(writers) and link.counts.connections == 1)
            yield link, _send_through(link, lambda data: writers[0].write(_counted(data)))
    finally:
        for writer in writers:
            writer.close()
        server.close()


@asynccontextmanager
async def _tcp_server(clock: ManualClock, bounds: LinkLimits) -> AsyncIterator[tuple[Link, Send]]:
    link = TcpServerLink(framing=Framing.LENGTHS, clock=clock, limits=bounds)
    async with link:
        _, writer = await asyncio.open_connection("127.0.0.1", link.port)
        await wait_until(lambda: link.counts.connections == 1)
        yield link, _send_through(link, lambda data: writer.write(_counted(data)))
        writer.close()


@asynccontextmanager
async def _zeromq(clock: ManualClock, bounds: LinkLimits) -> AsyncIterator[tuple[Link, Send]]:
    context = zmq.asyncio.Context()
    publisher = context.socket(zmq.XPUB)
    publisher.setsockopt(zmq.LINGER, 0)
    port = publisher.bind_to_random_port("tcp://127.0.0.1")
    try:
        async with ZmqLink(f"tcp://127.0.0.1:{port}", topic="state", clock=clock, limits=bounds) as link:
            await publisher.recv()  # the subscription has arrived: from now on no message is lost
            yield link, _send_through(link, lambda data: publisher.send_multipart([b"state", data]))
    finally:
        publisher.close()
        context.term()


def _send_through(link: Link, give: Callable[[bytes], object]) -> Send:
    """Sends, and waits until the link has seen it, so that a test knows what there is to take."""

    async def send(data: bytes) -> None:
        counts = link.counts
        seen = counts.received + counts.oversized
        given = give(data)
        if isinstance(given, Awaitable):
            await given
        await wait_until(lambda: counts.received + counts.oversized > seen)

    return send


def _counted(data: bytes) -> bytes:
    """A message of a stream that counts its bytes."""
    return struct.pack(">I", len(data)) + data


LINKS |= {
    "memory": _memory,
    "udp": _udp,
    "udp multicast": _multicast,
    "tcp client": _tcp_client,
    "tcp server": _tcp_server,
    "zeromq": _zeromq,
}

for _module in filter(None, os.environ.get("HOLDSHORT_CONTRACT", "").split(",")):
    importlib.import_module(_module)
