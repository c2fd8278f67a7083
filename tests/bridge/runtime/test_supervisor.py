"""Tests of bridge.runtime.supervisor: a link that fails is opened again, later each time, for as long as it takes."""

from __future__ import annotations

from adapters.links.base import Datagram, Link
from adapters.links.memory import MemoryLink
from bridge.runtime.supervisor import FIRST_RETRY_S, MAX_RETRY_S, SupervisedLink, supervise_link
from rules.faults import LinkError
from tests.contract.waiting import ManualClock


class UnopenableLink(MemoryLink):
    """A link that cannot be opened."""

    async def _open(self) -> None:
        """Fail."""
        raise LinkError("udp 127.0.0.1:5139 is in use by another program")


class RecordedWaits:
    """Waits without waiting: the clock goes on at once; keeps what was asked and said."""

    def __init__(self, clock: ManualClock, upkeep: SupervisedLink) -> None:
        """Nothing waited yet."""
        self.clock, self.upkeep = clock, upkeep
        self.seconds: list[float] = []
        self.descriptions: list[str] = []

    async def __call__(self, seconds: float) -> None:
        """Go on at once."""
        self.seconds.append(seconds)
        self.descriptions.append(self.upkeep.describe(self.clock()))
        self.clock.now_s += seconds


def ended(clock: ManualClock, *data: bytes) -> MemoryLink:
    """A link that delivers these datagrams and ends."""
    link = MemoryLink(clock=clock)
    for one in data:
        link.feed(one)
    link.close_input()
    return link


async def test_waits_double_up_to_their_bound_and_each_failure_says_when(clock: ManualClock) -> None:
    """A link that fails is tried after 1, 2, 4 ... s, at most 30, and the words say how long it still takes."""
    links: list[Link] = [*(UnopenableLink(clock=clock) for _ in range(7)), ended(clock, b"a", b"b")]
    upkeep, taken = SupervisedLink(), list[Datagram]()
    waits = RecordedWaits(clock, upkeep)
    await supervise_link(lambda: links.pop(0), taken.append, upkeep, clock, waits)
    assert waits.seconds == [FIRST_RETRY_S, 2, 4, 8, 16, MAX_RETRY_S, MAX_RETRY_S]
    assert waits.descriptions[2] == "udp 127.0.0.1:5139 is in use by another program; trying again in 4 s"
    assert upkeep.failures == 7
    assert [datagram.data for datagram in taken] == [b"a", b"b"]
    assert upkeep.describe(clock()) == ""
    assert upkeep.opened.is_set()


async def test_a_link_that_was_open_begins_again_with_the_shortest_wait(clock: ManualClock) -> None:
    """After a time of reception the next failure waits as short as the first."""
    lost = MemoryLink(clock=clock)
    lost.feed(b"before")
    lost._fail(LinkError("the peer left"))
    links: list[Link] = [
        UnopenableLink(clock=clock),
        UnopenableLink(clock=clock),
        lost,
        ended(clock, b"after"),
    ]
    upkeep, taken = SupervisedLink(), list[Datagram]()
    waits = RecordedWaits(clock, upkeep)
    await supervise_link(lambda: links.pop(0), taken.append, upkeep, clock, waits)
    assert waits.seconds == [1, 2, 1]
    assert waits.descriptions[-1].startswith("the peer left; trying again")
    assert [datagram.data for datagram in taken] == [b"before", b"after"]
