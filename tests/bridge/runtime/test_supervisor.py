"""Tests of bridge.runtime.supervisor: a link that fails is opened again, after growing waits and without end."""

from __future__ import annotations

from adapters.back_off import FIRST_WAIT_S, MAX_WAIT_S
from adapters.links.base import Datagram, Link
from adapters.links.memory import MemoryLink
from bridge.runtime.supervisor import SupervisedLink, supervise_link
from rules.faults import LinkError
from tests.contract.waiting import ManualClock


class UnopenableLink(MemoryLink):
    """A link that cannot be opened."""

    async def _open(self) -> None:
        """Raise a link error."""
        raise LinkError("udp 127.0.0.1:5139 is in use by another program")


class RecordedWaits:
    """Waits that advance the clock at once and record the seconds and the supervisor's description."""

    def __init__(self, clock: ManualClock, supervised: SupervisedLink) -> None:
        """Start without any wait."""
        self.clock, self.supervised = clock, supervised
        self.seconds: list[float] = []
        self.descriptions: list[str] = []

    async def __call__(self, seconds: float) -> None:
        """Record a wait and advance the clock."""
        self.seconds.append(seconds)
        self.descriptions.append(self.supervised.describe(self.clock()))
        self.clock.now_s += seconds


def link_that_ends(clock: ManualClock, *data: bytes) -> MemoryLink:
    """Return a link that delivers these datagrams and ends."""
    link = MemoryLink(clock=clock)
    for datagram_data in data:
        link.feed(datagram_data)
    link.close_input()
    return link


async def test_waits_double_up_to_their_limit_and_have_a_description(clock: ManualClock) -> None:
    """A link that fails is tried after 1, 2, 4 ... s, at most 30; the description has the time to the next attempt."""
    links: list[Link] = [*(UnopenableLink(clock=clock) for _ in range(7)), link_that_ends(clock, b"a", b"b")]
    supervised, received = SupervisedLink(), list[Datagram]()
    waits = RecordedWaits(clock, supervised)
    await supervise_link(lambda: links.pop(0), received.append, supervised, clock, waits)
    assert waits.seconds == [FIRST_WAIT_S, 2, 4, 8, 16, MAX_WAIT_S, MAX_WAIT_S]
    assert waits.descriptions[2] == "udp 127.0.0.1:5139 is in use by another program; trying again in 4 s"
    assert supervised.failures == 7
    assert [datagram.data for datagram in received] == [b"a", b"b"]
    assert supervised.describe(clock()) == ""
    assert supervised.opened.is_set()


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
    supervised, received = SupervisedLink(), list[Datagram]()
    waits = RecordedWaits(clock, supervised)
    await supervise_link(lambda: links.pop(0), received.append, supervised, clock, waits)
    assert waits.seconds == [1, 2, 1]
    assert waits.descriptions[-1].startswith("the peer left; trying again")
    assert [datagram.data for datagram in received] == [b"before", b"after"]
