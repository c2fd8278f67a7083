"""Tests of output links: messages arrive on loopback, and failures are counted or reported."""

from __future__ import annotations

import asyncio
import socket
import struct
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
import zmq
import zmq.asyncio

from mock_sim.send import OutputAddress, make_output
from mock_sim.send.links import MemoryOutput, TcpOutput, UdpOutput
from rules.faults import InputFaults, LinkError

MESSAGES = [b"one\n", b"two\n", b"three\n"]


@contextmanager
def udp_receiver(group: str = "") -> Iterator[socket.socket]:
    """A socket that receives, on a free port; a member of the group if one is given."""
    receiver = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    receiver.settimeout(5)
    receiver.bind((group or "127.0.0.1", 0))
    if group:
        member = struct.pack("4s4s", socket.inet_aton(group), socket.inet_aton("127.0.0.1"))
        receiver.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, member)
    try:
        yield receiver
    finally:
        receiver.close()


@pytest.mark.parametrize("group", ["", "239.192.7.7"])
async def test_udp_reaches_one_or_a_group(group: str) -> None:
    """Datagrams arrive one by one, unicast and multicast."""
    with udp_receiver(group) as receiver:
        port = receiver.getsockname()[1]
        async with make_output(f"udp://{group or '127.0.0.1'}:{port}") as out:
            for message in MESSAGES:
                await out.send(message)
            assert out.message_count == 3
        assert [receiver.recv(100) for _ in MESSAGES] == MESSAGES


async def test_udp_without_a_receiver_and_too_large_a_datagram_are_no_errors() -> None:
    """A missing receiver has no effect; a datagram that the system refuses is counted."""
    with udp_receiver() as receiver:
        port = receiver.getsockname()[1]
    async with UdpOutput(OutputAddress("udp", "127.0.0.1", port)) as out:
        for message in [*MESSAGES, b"x" * 70000]:
            await out.send(message)
        assert (out.message_count, out.refused_count) == (3, 1)


@pytest.mark.parametrize(
    ("lines", "expected"),
    [(True, b"one\ntwo\nthree\n"), (False, b"\0\0\0\x04one\n\0\0\0\x04two\n\0\0\0\x06three\n")],
)
async def test_tcp_as_a_server_frames_its_messages(lines: bool, expected: bytes) -> None:
    """A receiver that connects gets lines, or lengths and messages."""
    async with TcpOutput(OutputAddress("tcp-listen", "127.0.0.1", 0), lines=lines) as out:
        reader, writer = await asyncio.open_connection("127.0.0.1", out.port)
        await out.connected.wait()
        for message in MESSAGES:
            await out.send(message)
        assert await reader.readexactly(len(expected)) == expected
        writer.close()
        await writer.wait_closed()


async def test_tcp_as_a_client_connects_and_ends_lines() -> None:
    """The receiver listens; a line without a line feed gets one, so that the next one stays readable."""
    got: asyncio.Queue[bytes] = asyncio.Queue()

    async def take(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await got.put(await reader.read())
        writer.close()

    server = await asyncio.start_server(take, "127.0.0.1", 0)
    async with server:
        port = server.sockets[0].getsockname()[1]
        async with make_output(f"tcp://127.0.0.1:{port}", lines=True) as out:
            await out.send(b"half")
            await out.send(b"whole\n")
        assert await asyncio.wait_for(got.get(), 5) == b"half\nwhole\n"


async def test_tcp_without_a_receiver_is_an_error() -> None:
    """A refused connection is a `LinkError` that names the address and a likely cause."""
    with udp_receiver() as receiver:
        port = receiver.getsockname()[1]
    with pytest.raises(LinkError, match="is the receiver running"):
        async with make_output(f"tcp://127.0.0.1:{port}"):
            pass


async def test_zmq_publishes_to_a_subscriber() -> None:
    """A subscriber that has joined gets single-part messages."""
    context = zmq.asyncio.Context()
    subscriber = context.socket(zmq.SUB)
    with udp_receiver() as receiver:
        port = receiver.getsockname()[1]
    subscriber.setsockopt(zmq.SUBSCRIBE, b"")
    subscriber.setsockopt(zmq.RCVTIMEO, 200)
    subscriber.connect(f"tcp://127.0.0.1:{port}")
    try:
        async with make_output(f"zmq://127.0.0.1:{port}") as out:
            received = None
            while received is None:  # the first ones are lost until the subscriber has joined
                await out.send(b"again")
                if await subscriber.poll(50):
                    received = await subscriber.recv_multipart()
            assert received == [b"again"]
    finally:
        context.destroy(linger=0)


async def test_zmq_port_in_use_is_an_error() -> None:
    """Two publishers cannot bind the same port."""
    with udp_receiver() as receiver:
        port = receiver.getsockname()[1]
    async with make_output(f"zmq://127.0.0.1:{port}"):
        with pytest.raises(LinkError, match="another port"):
            async with make_output(f"zmq://127.0.0.1:{port}"):
                pass


async def test_the_memory_link_stores_every_message() -> None:
    """The memory link stores every message that it sends."""
    async with MemoryOutput() as out:
        await out.send(b"one")
        assert (out.messages, out.message_count) == ([b"one"], 1)


@pytest.mark.parametrize(
    "text", ["", "udp", "udp://127.0.0.1", "udp://nowhere:5501", "ftp://127.0.0.1:1", "udp://127.0.0.1:99999"]
)
def test_an_invalid_address_is_refused(text: str) -> None:
    """The fault shows an example of an address."""
    with pytest.raises(InputFaults, match=r"udp://127\.0\.0\.1:5501"):
        OutputAddress.parse(text)


def test_an_address_is_written_as_it_is_read() -> None:
    """Reading and writing agree."""
    assert str(OutputAddress.parse("tcp-listen://127.0.0.1:5501")) == "tcp-listen://127.0.0.1:5501"
