"""Tests of the TCP links: reconnection, framing, the newest connection, peers."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass

import pytest

from adapters.back_off import MAX_WAIT_S
from adapters.links.base import LinkStatus
from adapters.links.framing import Framing
from adapters.links.tcp import INITIAL_RETRY_S, TcpClientLink, TcpServerLink
from rules.faults import LinkError
from tests.contract.waiting import ManualClock, wait_until


class ManualSleep:
    """A sleep whose waits end when the test releases them."""

    def __init__(self) -> None:
        self.requested_s: list[float] = []
        self._go = asyncio.Event()

    async def __call__(self, wait_s: float) -> None:
        """Wait until the test calls `release`."""
        self.requested_s.append(wait_s)
        self._go.clear()
        await self._go.wait()

    async def release(self) -> None:
        """End the present wait, and return when the next one has begun."""
        before = len(self.requested_s)
        self._go.set()
        await wait_until(lambda: len(self.requested_s) > before)


async def test_a_client_tries_again_with_growing_waits() -> None:
    """Without a listener the client doubles its wait up to a limit, and its status text says when it tries next."""
    clock, waits = ManualClock(), ManualSleep()
    probe = await asyncio.start_server(lambda _, w: w.close(), "127.0.0.1", 0)
    port = probe.sockets[0].getsockname()[1]
    probe.close()
    async with TcpClientLink("127.0.0.1", port, clock=clock, sleep=waits) as link:
        await wait_until(lambda: len(waits.requested_s) == 1)
        assert link.status(clock()) is LinkStatus.RETRYING
        for _ in range(8):
            await waits.release()
        assert waits.requested_s == [min(INITIAL_RETRY_S * 2**n, MAX_WAIT_S) for n in range(9)]
        clock.now_s += 26.0
        assert "cannot connect" in link.status_text(clock())
        assert link.status_text(clock()).endswith("trying again in 4 s")


async def test_a_client_connects_again_by_itself() -> None:
    """After the sender closed the connection, the client connects again and continues."""
    waits, served = ManualSleep(), list[int]()

    async def serve(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        served.append(1)
        writer.write(b"from %d\nhal" % len(served))
        await writer.drain()
        writer.close()

    server = await asyncio.start_server(serve, "127.0.0.1", 0)
    async with TcpClientLink("127.0.0.1", server.sockets[0].getsockname()[1], sleep=waits) as link:
        assert (await anext(link)).data == b"from 1"
        await wait_until(lambda: len(waits.requested_s) == 1)
        assert "closed the connection" in link.last_error
        await waits.release()
        assert (await anext(link)).data == b"from 2"
        assert waits.requested_s == [INITIAL_RETRY_S, INITIAL_RETRY_S]
        assert (link.counts.connections, link.counts.unfinished) == (2, 2)
    server.close()


async def test_an_unfinished_message_of_a_broken_connection_is_discarded() -> None:
    """The unfinished message of a connection is counted, and the next connection starts with an empty buffer."""
    async with TcpServerLink() as link:
        for count, piece in enumerate((b"heading=359.5\nheading=35", b"9.7\n"), start=1):
            _, writer = await asyncio.open_connection("127.0.0.1", link.port)
            writer.write(piece)
            await wait_until(lambda: link.counts.received == count)  # noqa: B023 - called in this iteration only
            writer.close()
            await wait_until(lambda: link.status(0.0) is LinkStatus.RETRYING)
        assert [(await anext(link)).data for _ in range(2)] == [b"heading=359.5", b"9.7"]
        assert link.counts.unfinished == 1


async def test_a_new_connection_replaces_a_silent_one() -> None:
    """A second sender replaces a first that is silent, whose connection is closed."""
    clock = FixedClock()
    async with TcpServerLink(clock=clock) as link:
        old_reader, old = await asyncio.open_connection("127.0.0.1", link.port)
        old.write(b"old\n")
        assert (await anext(link)).data == b"old"
        clock.now_s += link.limits.silent_s
        _, new = await asyncio.open_connection("127.0.0.1", link.port)
        new.write(b"new\n")
        assert (await anext(link)).data == b"new"
        assert await old_reader.read() == b""
        new.close()
        old.close()


async def test_a_new_connection_is_refused_while_the_old_one_sends() -> None:
    """A stranger cannot take the place of a sender that sends; it is closed and counted."""
    clock = FixedClock()
    async with TcpServerLink(clock=clock) as link:
        _, old = await asyncio.open_connection("127.0.0.1", link.port)
        old.write(b"1\n")
        assert (await anext(link)).data == b"1"
        clock.now_s += link.limits.silent_s - 0.1
        reader, new = await asyncio.open_connection("127.0.0.1", link.port)
        assert await reader.read() == b""
        old.write(b"2\n")
        assert (await anext(link)).data == b"2"
        assert (link.counts.refused, link.counts.connections) == (1, 1)
        new.close()
        old.close()


@dataclass
class FixedClock:
    """A clock that a test sets."""

    now_s: float = 100.0

    def __call__(self) -> float:
        """Give its time."""
        return self.now_s


async def test_a_stream_with_another_framing_is_reported() -> None:
    """Text instead of lengths ends the connection with a reason, and no part of it is delivered."""
    async with TcpServerLink(framing=Framing.LENGTHS) as link:
        reader, writer = await asyncio.open_connection("127.0.0.1", link.port)
        writer.write(b"GET / HTTP/1.1\r\n\r\n")
        assert await reader.read() == b""
        await wait_until(lambda: link.status(0.0) is LinkStatus.RETRYING)
        assert "the length prefix says" in link.status_text(0.0)
        assert "waiting for the sender to connect again" in link.status_text(0.0)
        assert link.counts.received == 0
        writer.close()


async def test_a_port_in_use_is_reported() -> None:
    """A second listener on the same port raises LinkError with the cause."""
    async with TcpServerLink() as first:
        with pytest.raises(LinkError, match="in use by another program"):
            async with TcpServerLink(port=first.port):
                pass


async def test_a_peer_that_is_not_allowed_is_refused() -> None:
    """With a list of peers, other senders are disconnected and counted."""
    async with TcpServerLink(peers=["192.0.2.7"]) as link:
        reader, writer = await asyncio.open_connection("127.0.0.1", link.port)
        assert await reader.read() == b""
        assert (link.counts.refused, link.counts.connections) == (1, 0)
        writer.close()
