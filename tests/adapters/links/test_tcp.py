"""What TCP in particular has to get right."""

from __future__ import annotations

import asyncio

import pytest

from adapters.links.base import LinkStatus
from adapters.links.framing import Framing
from adapters.links.tcp import INITIAL_RETRY_S, MAX_RETRY_S, TcpClientLink, TcpServerLink
from rules.faults import LinkError
from tests.contract.waiting import ManualClock, wait_until


class Waits:
    """Takes the place of waiting: each wait ends when the test lets it."""

    def __init__(self) -> None:
        """Nobody waits yet."""
        self.asked_s: list[float] = []
        self._go = asyncio.Event()

    async def __call__(self, wait_s: float) -> None:
        """Wait until `let`."""
        self.asked_s.append(wait_s)
        self._go.clear()
        await self._go.wait()

    async def let(self) -> None:
        """Let the present wait end, and come to the next."""
        seen = len(self.asked_s)
        self._go.set()
        await wait_until(lambda: len(self.asked_s) > seen)


async def test_a_client_tries_again_and_says_when() -> None:
    """While nobody listens the client doubles its wait up to a bound, and its words tell when it tries next."""
    clock, waits = ManualClock(), Waits()
    probe = await asyncio.start_server(lambda _, w: w.close(), "127.0.0.1", 0)
    port = probe.sockets[0].getsockname()[1]
    probe.close()
    async with TcpClientLink("127.0.0.1", port, clock=clock, sleep=waits) as link:
        await wait_until(lambda: len(waits.asked_s) == 1)
        assert link.status(clock()) is LinkStatus.RETRYING
        for _ in range(8):
            await waits.let()
        assert waits.asked_s == [min(INITIAL_RETRY_S * 2**n, MAX_RETRY_S) for n in range(9)]
        clock.now_s += 26.0
        assert "cannot connect" in link.status_text(clock())
        assert link.status_text(clock()).endswith("trying again in 4 s")


async def test_a_client_connects_again_by_itself() -> None:
    """After the sender closed the connection, the client connects to its successor and goes on."""
    waits, served = Waits(), list[int]()

    async def serve(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        served.append(1)
        writer.write(b"from %d\nhal" % len(served))
        await writer.drain()
        writer.close()

    server = await asyncio.start_server(serve, "127.0.0.1", 0)
    async with TcpClientLink("127.0.0.1", server.sockets[0].getsockname()[1], sleep=waits) as link:
        assert (await anext(link)).data == b"from 1"
        await wait_until(lambda: len(waits.asked_s) == 1)
        assert "closed the connection" in link.last_error
        await waits.let()
        assert (await anext(link)).data == b"from 2"
        assert waits.asked_s == [INITIAL_RETRY_S, INITIAL_RETRY_S]
        assert (link.counts.connections, link.counts.unfinished) == (2, 2)
    server.close()


async def test_a_half_sentence_of_a_broken_connection_is_never_handed_on() -> None:
    """What a connection left unfinished is counted, and the next connection begins afresh."""
    async with TcpServerLink() as link:
        for count, piece in enumerate((b"heading=359.5\nheading=35", b"9.7\n"), start=1):
            _, writer = await asyncio.open_connection("127.0.0.1", link.port)
            writer.write(piece)
            await wait_until(lambda: link.counts.received == count)  # noqa: B023 - called in this turn only
            writer.close()
            await wait_until(lambda: link.status(0.0) is LinkStatus.RETRYING)
        assert [(await anext(link)).data for _ in range(2)] == [b"heading=359.5", b"9.7"]
        assert link.counts.unfinished == 1


async def test_the_newest_connection_counts() -> None:
    """A second sender takes the place of the first, whose connection is closed."""
    async with TcpServerLink() as link:
        old_reader, old = await asyncio.open_connection("127.0.0.1", link.port)
        old.write(b"old\n")
        assert (await anext(link)).data == b"old"
        _, new = await asyncio.open_connection("127.0.0.1", link.port)
        new.write(b"new\n")
        assert (await anext(link)).data == b"new"
        assert await old_reader.read() == b""
        new.close()
        old.close()


async def test_a_stream_that_is_framed_otherwise_is_told() -> None:
    """Text where lengths are expected ends the connection with the reason, and nothing of it is handed on."""
    async with TcpServerLink(framing=Framing.LENGTHS) as link:
        reader, writer = await asyncio.open_connection("127.0.0.1", link.port)
        writer.write(b"GET / HTTP/1.1\r\n\r\n")
        assert await reader.read() == b""
        await wait_until(lambda: link.status(0.0) is LinkStatus.RETRYING)
        assert "the length prefix says" in link.status_text(0.0)
        assert "waiting for the sender to connect again" in link.status_text(0.0)
        assert link.counts.received == 0
        writer.close()


async def test_a_listening_port_in_use_is_told() -> None:
    """A second listener on the same port fails with a sentence."""
    async with TcpServerLink() as first:
        with pytest.raises(LinkError, match="in use by another program"):
            async with TcpServerLink(port=first.port):
                pass


async def test_who_is_not_allowed_is_turned_away() -> None:
    """With a list of peers, others are disconnected and counted."""
    async with TcpServerLink(peers=["192.0.2.7"]) as link:
        reader, writer = await asyncio.open_connection("127.0.0.1", link.port)
        assert await reader.read() == b""
        assert (link.counts.refused, link.counts.connections) == (1, 0)
        writer.close()
