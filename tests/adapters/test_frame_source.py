"""Tests of adapters.frame_source: a link that fails is opened again, after growing waits and without end."""

from __future__ import annotations

import pytest

from adapters.back_off import FIRST_WAIT_S, MAX_WAIT_S
from adapters.factory import receiver_for
from adapters.frame_source import FrameSource
from adapters.links.base import Datagram, Link
from adapters.links.memory import MemoryLink
from rules.faults import LinkError
from tests.contract.waiting import ManualClock


@pytest.fixture
def clock() -> ManualClock:
    """A clock that stands until a test moves it."""
    return ManualClock()


class UnopenableLink(MemoryLink):
    """A link that cannot be opened."""

    async def _open(self) -> None:
        """Raise a link error."""
        raise LinkError("udp 127.0.0.1:5139 is in use by another program")


class RecordedWaits:
    """Waits that advance the clock at once and record the seconds and the report of the source."""

    def __init__(self, clock: ManualClock) -> None:
        """Start without any wait."""
        self.clock = clock
        self.source: FrameSource | None = None
        self.seconds: list[float] = []
        self.descriptions: list[str] = []

    async def __call__(self, seconds: float) -> None:
        """Record a wait and advance the clock."""
        self.seconds.append(seconds)
        if self.source is not None:
            self.descriptions.append(self.source.report().text)
        self.clock.now_s += seconds


def link_that_ends(clock: ManualClock, *data: bytes) -> MemoryLink:
    """Return a link that delivers these datagrams and ends."""
    link = MemoryLink(clock=clock)
    for datagram_data in data:
        link.feed(datagram_data)
    link.close_input()
    return link


def source_of(links: list[Link], waits: RecordedWaits) -> FrameSource:
    """Make a source that opens these links one after the other."""
    waits.source = FrameSource(
        receiver_for({}), lambda: links.pop(0), "udp://127.0.0.1:5139", clock=waits.clock, sleep=waits
    )
    return waits.source


async def test_waits_double_up_to_their_limit_and_have_a_description(clock: ManualClock) -> None:
    """A link that fails is tried after 1, 2, 4 ... s, at most 30; the description has the time to the next attempt."""
    links: list[Link] = [*(UnopenableLink(clock=clock) for _ in range(7)), link_that_ends(clock, b"a", b"b")]
    waits, received = RecordedWaits(clock), list[Datagram]()
    source = source_of(links, waits)
    await source.receive_datagrams(received.append)
    assert waits.seconds == [FIRST_WAIT_S, 2, 4, 8, 16, MAX_WAIT_S, MAX_WAIT_S]
    assert waits.descriptions[2] == "udp 127.0.0.1:5139 is in use by another program; trying again in 4 s"
    assert source.failures == 7
    assert [datagram.data for datagram in received] == [b"a", b"b"]
    assert source.failure == ""
    assert source.opened.is_set()


async def test_a_link_that_was_open_starts_with_the_shortest_wait(clock: ManualClock) -> None:
    """After a reception the next failure waits as short as the first."""
    lost = MemoryLink(clock=clock)
    lost.feed(b"before")
    lost._fail(LinkError("the peer left"))
    links: list[Link] = [
        UnopenableLink(clock=clock),
        UnopenableLink(clock=clock),
        lost,
        link_that_ends(clock, b"after"),
    ]
    waits, received = RecordedWaits(clock), list[Datagram]()
    await source_of(links, waits).receive_datagrams(received.append)
    assert waits.seconds == [1, 2, 1]
    assert waits.descriptions[-1].startswith("the peer left; trying again")
    assert [datagram.data for datagram in received] == [b"before", b"after"]
