"""What ZeroMQ in particular has to get right."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator

import pytest
import zmq
import zmq.asyncio

from adapters.links.base import LinkStatus
from adapters.links.zeromq import ZmqLink
from rules.faults import LinkError
from tests.contract.waiting import ManualClock, wait_until


@pytest.fixture
async def publisher() -> AsyncIterator[tuple[zmq.asyncio.Socket, str]]:
    """A bound publisher that tells of subscriptions, and its endpoint."""
    context = zmq.asyncio.Context()
    opened = context.socket(zmq.XPUB)
    opened.setsockopt(zmq.LINGER, 0)
    port = opened.bind_to_random_port("tcp://127.0.0.1")
    yield opened, f"tcp://127.0.0.1:{port}"
    opened.close()
    context.term()


async def test_only_the_exact_topic_is_taken(publisher: tuple[zmq.asyncio.Socket, str]) -> None:
    """`eng1` does not take what was published for `eng10`, nor a message without topic of its own."""
    socket, endpoint = publisher
    async with ZmqLink(endpoint, topic="eng1") as link:
        await socket.recv()
        for parts in ([b"eng10", b"no"], [b"eng1 no"], [b"eng1", b"yes"]):
            await socket.send_multipart(parts)
        assert (await anext(link)).data == b"yes"
        assert link.counts.refused == 2


async def test_the_last_part_is_the_datagram(publisher: tuple[zmq.asyncio.Socket, str]) -> None:
    """Without topic every message is taken, and of several parts the last one counts."""
    socket, endpoint = publisher
    async with ZmqLink(endpoint) as link:
        await socket.recv()
        await socket.send_multipart([b"topic", b"header", b"payload"])
        await socket.send(b"alone")
        assert [(await anext(link)).data for _ in range(2)] == [b"payload", b"alone"]


async def test_without_a_publisher_it_waits_and_closes_at_once() -> None:
    """Nobody there is no error but waiting, and closing does not hang."""
    clock = ManualClock()
    async with asyncio.timeout(5):
        async with ZmqLink("tcp://127.0.0.1:9", clock=clock) as link:
            assert link.status(clock()) is LinkStatus.WAITING
        assert link.status(clock()) is LinkStatus.STOPPED


async def test_the_first_messages_may_be_missed(publisher: tuple[zmq.asyncio.Socket, str]) -> None:
    """What was published before the subscription is gone, and the link works from whatever comes first."""
    socket, endpoint = publisher
    await socket.send(b"too early")
    async with ZmqLink(endpoint) as link:
        await socket.recv()
        await socket.send(b"first seen")
        assert (await anext(link)).data == b"first seen"


async def test_high_water_and_linger_are_set_before_connecting(monkeypatch: pytest.MonkeyPatch) -> None:
    """The bound on waiting messages is in force from the first one on."""
    said: list[object] = []
    real_set, real_connect = zmq.asyncio.Socket.setsockopt, zmq.asyncio.Socket.connect

    def note_option(self: zmq.asyncio.Socket, option: int, value: int | bytes) -> None:
        said.append(option)
        real_set(self, option, value)

    def note_connect(self: zmq.asyncio.Socket, endpoint: str) -> object:
        said.append("connect")
        return real_connect(self, endpoint)

    monkeypatch.setattr(zmq.asyncio.Socket, "setsockopt", note_option)
    monkeypatch.setattr(zmq.asyncio.Socket, "connect", note_connect)
    async with ZmqLink("tcp://127.0.0.1:9"):
        before = said[: said.index("connect")]
        assert {zmq.RCVHWM, zmq.LINGER, zmq.SUBSCRIBE} <= set(before)


async def test_an_endpoint_that_cannot_be_is_told() -> None:
    """A wrong endpoint is a sentence, and leaves nothing open."""
    with pytest.raises(LinkError, match=r"expected such as tcp://127\.0\.0\.1:5563"):
        async with ZmqLink("nonsense"):
            pass
    await wait_until(lambda: True)
