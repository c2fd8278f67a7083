"""Tests of the UDP link: ports, peers, stalls, errors of the system."""

from __future__ import annotations

import asyncio
import socket
from collections.abc import Iterator

import pytest

from adapters.links.base import Link, LinkLimits
from adapters.links.udp import UdpLink
from rules.faults import LinkError
from tests.contract.waiting import ManualClock, wait_until


@pytest.fixture
def sender() -> Iterator[socket.socket]:
    """Open a socket that sends."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as opened:
        yield opened


async def test_a_port_in_use_is_reported_and_never_shared(sender: socket.socket) -> None:
    """A second link on the same port raises LinkError, and the first receives everything."""
    async with UdpLink() as first:
        with pytest.raises(LinkError, match=f"{first.port} is in use by another program"):
            async with UdpLink(port=first.port):
                pass
        for number in range(20):
            sender.sendto(b"%d" % number, ("127.0.0.1", first.port))
        await wait_until(lambda: first.counts.received == 20)


async def test_an_address_of_another_machine_cannot_be_opened() -> None:
    """An address of another machine raises LinkError with the cause."""
    with pytest.raises(LinkError, match="is not an address of this machine"):
        async with UdpLink("192.0.2.1", 5139, peers=["192.0.2.7"]):
            pass


async def test_a_peer_that_is_not_allowed_is_refused(sender: socket.socket) -> None:
    """With a list of peers, datagrams from other senders are counted and not queued."""
    async with UdpLink(peers=["192.0.2.7"]) as link:
        sender.sendto(b"x", ("127.0.0.1", link.port))
        await wait_until(lambda: link.counts.refused == 1)
        assert link.counts.received == 0


async def test_two_senders_are_reported(sender: socket.socket) -> None:
    """The status text counts two programs that send to the same port."""
    clock = ManualClock()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
        async with UdpLink(clock=clock) as link:
            for each in (sender, other):
                each.sendto(b"x", ("127.0.0.1", link.port))
            await wait_until(lambda: link.counts.received == 2)
            assert link.status_text(clock()).endswith("receiving from 2 senders")


async def test_a_stall_of_the_event_loop_loses_nothing(sender: socket.socket) -> None:
    """After the event loop was blocked, everything in the system's buffer is delivered in order."""
    async with UdpLink() as link:
        for number in range(100):  # no await: the event loop is blocked
            sender.sendto(b"%d" % number, ("127.0.0.1", link.port))
        await wait_until(lambda: link.counts.received == 100)
        assert [(await anext(link)).data for _ in range(100)] == [b"%d" % number for number in range(100)]
        assert link.counts.dropped == 0


async def test_an_oversized_datagram_is_refused(sender: socket.socket) -> None:
    """A datagram above the limit is counted, and the next one is received."""
    async with UdpLink(limits=LinkLimits(max_bytes=100)) as link:
        sender.sendto(b"x" * 101, ("127.0.0.1", link.port))
        sender.sendto(b"y" * 100, ("127.0.0.1", link.port))
        assert (await anext(link)).data == b"y" * 100
        assert link.counts.oversized == 1


class FailingSocket:
    """A fake socket that raises errors of the system, then returns some datagrams."""

    def __init__(self, number: int, errors: list[OSError], then: list[bytes]) -> None:
        self.number, self.errors, self.then = number, errors, then

    def fileno(self) -> int:
        """Give the real socket's number, which the event loop knows."""
        return self.number

    def recvfrom(self, _: int) -> tuple[bytes, tuple[str, int]]:
        """Raise the next error, or return the next datagram."""
        if self.errors:
            raise self.errors.pop(0)
        if self.then:
            return self.then.pop(0), ("127.0.0.1", 9)
        raise BlockingIOError


def drain(link: UdpLink, errors: list[OSError], then: list[bytes]) -> None:
    """Let a link read once from a fake socket."""
    real = link._socket
    assert real is not None
    link._socket = FailingSocket(real.fileno(), errors, then)  # type: ignore[assignment]
    link._drain()
    link._socket = real


async def test_a_refusal_by_the_other_side_does_not_end_reception() -> None:
    """ICMP refusals and resets are counted, and the next datagram is received."""
    async with UdpLink() as link:
        drain(
            link,
            [ConnectionRefusedError(111, "Connection refused"), ConnectionResetError(10054, "reset")],
            [b"x"],
        )
        assert (await anext(link)).data == b"x"
        assert link.counts.errors == 2


async def test_a_socket_that_only_fails_ends_the_link() -> None:
    """After many errors in a row the link raises LinkError, so that it can be opened again."""
    async with UdpLink() as link:
        drain(link, [OSError(100, "Network is down") for _ in range(150)], [])
        with pytest.raises(LinkError, match="reception failed: Network is down"):
            await anext(link)


async def test_an_event_loop_without_readers_is_reported(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a proactor loop the link raises LinkError that names the needed loop."""

    def refuse(*_: object) -> None:
        raise NotImplementedError

    monkeypatch.setattr(asyncio.get_running_loop(), "add_reader", refuse)
    link: Link = UdpLink()
    with pytest.raises(LinkError, match="selector loop"):
        async with link:
            pass
