"""Tests of the ZeroMQ link: topics, parts of a message, absent publishers, options."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from itertools import pairwise

import pytest
import zmq
import zmq.asyncio

from adapters.links.base import LinkStatus
from adapters.links.zeromq import ZmqLink
from rules.faults import LinkError
from tests.contract.waiting import ManualClock, wait_until


@pytest.fixture
async def publisher() -> AsyncIterator[tuple[zmq.asyncio.Socket, str]]:
    """Bind a publisher that reports subscriptions; give it with its endpoint."""
    context = zmq.asyncio.Context()
    opened = context.socket(zmq.XPUB)
    opened.setsockopt(zmq.LINGER, 0)
    port = opened.bind_to_random_port("tcp://127.0.0.1")
    yield opened, f"tcp://127.0.0.1:{port}"
    opened.close()
    context.term()


async def test_only_the_exact_topic_is_received(publisher: tuple[zmq.asyncio.Socket, str]) -> None:
    """A subscription to `eng1` receives neither messages of `eng10` nor messages without a separate topic."""
    socket, endpoint = publisher
    async with ZmqLink(endpoint, topic="eng1") as link:
        await socket.recv()
        for parts in ([b"eng10", b"no"], [b"eng1 no"], [b"eng1", b"yes"]):
            await socket.send_multipart(parts)
        assert (await anext(link)).data == b"yes"
        assert link.counts.refused == 2


async def test_the_last_part_is_the_datagram(publisher: tuple[zmq.asyncio.Socket, str]) -> None:
    """Without a topic every message is received, and the last of several parts is the datagram."""
    socket, endpoint = publisher
    async with ZmqLink(endpoint) as link:
        await socket.recv()
        await socket.send_multipart([b"topic", b"header", b"payload"])
        await socket.send(b"alone")
        assert [(await anext(link)).data for _ in range(2)] == [b"payload", b"alone"]


async def test_without_a_publisher_it_waits_and_closes_at_once() -> None:
    """An absent publisher gives the status waiting, and closing does not hang."""
    clock = ManualClock()
    async with asyncio.timeout(5):
        async with ZmqLink("tcp://127.0.0.1:9", clock=clock) as link:
            assert link.status(clock()) is LinkStatus.WAITING
        assert link.status(clock()) is LinkStatus.STOPPED


async def test_the_first_messages_may_be_missed(publisher: tuple[zmq.asyncio.Socket, str]) -> None:
    """Messages published before the subscription are lost, and the link receives from the first later one."""
    socket, endpoint = publisher
    await socket.send(b"too early")
    async with ZmqLink(endpoint) as link:
        await socket.recv()
        await socket.send(b"first seen")
        assert (await anext(link)).data == b"first seen"


async def test_high_water_and_linger_are_set_before_connecting(monkeypatch: pytest.MonkeyPatch) -> None:
    """The high-water mark, the linger time and the subscription are set before the connection."""
    calls: list[object] = []
    real_set, real_connect = zmq.asyncio.Socket.setsockopt, zmq.asyncio.Socket.connect

    def note_option(self: zmq.asyncio.Socket, option: int, value: int | bytes) -> None:
        calls.append(option)
        real_set(self, option, value)

    def note_connect(self: zmq.asyncio.Socket, endpoint: str) -> object:
        calls.append("connect")
        return real_connect(self, endpoint)

    monkeypatch.setattr(zmq.asyncio.Socket, "setsockopt", note_option)
    monkeypatch.setattr(zmq.asyncio.Socket, "connect", note_connect)
    async with ZmqLink("tcp://127.0.0.1:9"):
        before = calls[: calls.index("connect")]
        assert {zmq.RCVHWM, zmq.LINGER, zmq.SUBSCRIBE} <= set(before)


async def test_an_invalid_endpoint_is_reported() -> None:
    """An invalid endpoint raises LinkError and leaves no socket open."""
    with pytest.raises(LinkError, match=r"expected an address such as tcp://127\.0\.0\.1:5563"):
        async with ZmqLink("nonsense"):
            pass
    await wait_until(lambda: True)


class EndlessSocket:
    """A socket on which a message always waits, until it has given `count` of them."""

    def __init__(self, count: int) -> None:
        """Start full."""
        self.left = count

    async def recv_multipart(self) -> list[bytes]:
        """Give a message at once, without a pause."""
        self.left -= 1
        if self.left < 0:
            raise asyncio.CancelledError
        return [b"message"]


async def test_a_flood_leaves_others_their_turn() -> None:
    """While messages always wait, other tasks of the event loop run after a few of them."""
    link, socket, seen = ZmqLink("tcp://127.0.0.1:9"), EndlessSocket(10_000), []
    task = asyncio.create_task(link._receive(socket))  # type: ignore[arg-type]
    while not task.done():
        await asyncio.sleep(0)
        seen.append(socket.left)
    steps = [before - after for before, after in pairwise(seen)]
    assert max(steps) <= 64
