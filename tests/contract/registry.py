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

from adapters.decoders.base import Decoder, Raw
from adapters.decoders.json_text import JsonText
from adapters.decoders.key_value import KeyValue
from adapters.decoders.labelled_csv import LabelledCsv
from adapters.decoders.msgpack_map import MsgpackMap
from adapters.decoders.packed_struct import PackedStruct
from adapters.decoders.table import Endian, Entry, Table
from adapters.encode.base import Encoder
from adapters.encode.msgpack_map import MsgpackEncoder
from adapters.encode.packed_struct import StructEncoder
from adapters.encode.text import CsvEncoder, JsonEncoder, KeyValueEncoder
from adapters.framing import Framing
from adapters.links.base import Bounds, Link
from adapters.links.memory import MemoryLink
from adapters.links.tcp import TcpClientLink, TcpServerLink
from adapters.links.udp import UdpLink
from adapters.links.zeromq import ZmqLink
from tests.contract.until import Clock, until

Send: TypeAlias = Callable[[bytes], Awaitable[None]]
LinkMaker: TypeAlias = Callable[[Clock, Bounds], AbstractAsyncContextManager[tuple[Link, Send]]]
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
    fields: dict[str, Raw]
    rejects_cuts: bool


TABLE = Table(
    Endian.LITTLE,
    (Entry("magic", "text:4"), Entry("length", "u16"), Entry("sequence", "u32"), Entry("time", "f64"), Entry("validity", "u8")),
    (Entry("n2", "f64", 0), Entry("gear", "text:6", 1), Entry("count", "i32", 2), Entry("on", "bool", 3)),
    magic=b"LMRE",
)  # fmt: skip
_FIELDS: dict[str, Raw] = {"n2": 61.25, "gear": "down", "count": 3, "on": True}

DECODERS: dict[str, DecoderCase] = {
    "labelled_csv": DecoderCase(LabelledCsv, CsvEncoder, _FIELDS, rejects_cuts=False),
    "key_value": DecoderCase(KeyValue, KeyValueEncoder, _FIELDS, rejects_cuts=False),
    "json": DecoderCase(JsonText, JsonEncoder, _FIELDS, rejects_cuts=True),
    "msgpack": DecoderCase(MsgpackMap, MsgpackEncoder, _FIELDS, rejects_cuts=True),
    "packed_struct": DecoderCase(
        lambda: PackedStruct(TABLE), lambda: StructEncoder(TABLE), _FIELDS, rejects_cuts=True
    ),
}


@asynccontextmanager
async def _memory(clock: Clock, bounds: Bounds) -> AsyncIterator[tuple[Link, Send]]:
    link = MemoryLink(clock=clock, bounds=bounds)

    async def send(data: bytes) -> None:
        link.feed(data)

    async with link:
        yield link, send


@asynccontextmanager
async def _udp(clock: Clock, bounds: Bounds) -> AsyncIterator[tuple[Link, Send]]:
    link = UdpLink(clock=clock, bounds=bounds)
    async with link:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            yield link, _sent(link, lambda data: sender.sendto(data, ("127.0.0.1", link.port)))


@asynccontextmanager
async def _multicast(clock: Clock, bounds: Bounds) -> AsyncIterator[tuple[Link, Send]]:
    link = UdpLink("239.255.77.5", clock=clock, bounds=bounds)
    async with link:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
            sender.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))
            sender.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_LOOP, 1)
            yield link, _sent(link, lambda data: sender.sendto(data, ("239.255.77.5", link.port)))


@asynccontextmanager
async def _tcp_client(clock: Clock, bounds: Bounds) -> AsyncIterator[tuple[Link, Send]]:
    writers: list[asyncio.StreamWriter] = []
    server = await asyncio.start_server(lambda _, writer: writers.append(writer), "127.0.0.1", 0)
    link = TcpClientLink(
        "127.0.0.1", server.sockets[0].getsockname()[1], framing=Framing.LENGTHS, clock=clock, bounds=bounds
    )
    try:
        async with link:
            await until(lambda: bool(writers) and link.counts.connections == 1)
            yield link, _sent(link, lambda data: writers[0].write(_counted(data)))
    finally:
        for writer in writers:
            writer.close()
        server.close()


@asynccontextmanager
async def _tcp_server(clock: Clock, bounds: Bounds) -> AsyncIterator[tuple[Link, Send]]:
    link = TcpServerLink(framing=Framing.LENGTHS, clock=clock, bounds=bounds)
    async with link:
        _, writer = await asyncio.open_connection("127.0.0.1", link.port)
        await until(lambda: link.counts.connections == 1)
        yield link, _sent(link, lambda data: writer.write(_counted(data)))
        writer.close()


@asynccontextmanager
async def _zeromq(clock: Clock, bounds: Bounds) -> AsyncIterator[tuple[Link, Send]]:
    context = zmq.asyncio.Context()
    publisher = context.socket(zmq.XPUB)
    publisher.setsockopt(zmq.LINGER, 0)
    port = publisher.bind_to_random_port("tcp://127.0.0.1")
    try:
        async with ZmqLink(f"tcp://127.0.0.1:{port}", topic="state", clock=clock, bounds=bounds) as link:
            await publisher.recv()  # the subscription has arrived: from now on no message is lost
            yield link, _sent(link, lambda data: publisher.send_multipart([b"state", data]))
    finally:
        publisher.close()
        context.term()


def _sent(link: Link, give: Callable[[bytes], object]) -> Send:
    """Sends, and waits until the link has seen it, so that a test knows what there is to take."""

    async def send(data: bytes) -> None:
        counts = link.counts
        seen = counts.received + counts.oversized
        given = give(data)
        if isinstance(given, Awaitable):
            await given
        await until(lambda: counts.received + counts.oversized > seen)

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
