"""Contract of every link, ours and those of other packages; `link_cases` lists them.

Takes: `LINKS`.  Gives: tests of order, limits, status and the end.
"""

from __future__ import annotations

import asyncio

import pytest

from adapters.links.base import Link, LinkLimits, LinkStatus
from tests.contract.link_cases import LINKS, LinkMaker
from tests.contract.waiting import ManualClock

ANY_BYTES = [
    b"\x00",
    b"\xff" * 64,
    b"\n\n\r\n",
    b"{",
    b"\xfd\x09",
    "Grüße".encode(),
    bytes(range(256)),
    b"x" * 9000,
]


@pytest.fixture(params=list(LINKS.values()), ids=list(LINKS))
def make(request: pytest.FixtureRequest) -> LinkMaker:
    """Give each link in turn."""
    maker: LinkMaker = request.param
    return maker


async def take(link: Link, count: int) -> list[bytes]:
    """Read the bytes of the next datagrams."""
    async with asyncio.timeout(10):
        return [(await anext(link)).data for _ in range(count)]


async def test_bytes_arrive_as_they_were_sent(make: LinkMaker) -> None:
    """Any bytes arrive unchanged and in order, with the clock's time and the sender's name."""
    clock = ManualClock(7.5)
    async with make(clock, LinkLimits()) as (link, send):
        for data in ANY_BYTES:
            await send(data)
            datagram = await anext(link)
            assert datagram.data == data
            assert datagram.recv_s == 7.5
            assert datagram.peer
        assert link.counts.received == len(ANY_BYTES)
        assert link.counts.byte_count == sum(map(len, ANY_BYTES))


async def test_datagrams_queued_before_a_read_are_all_delivered(make: LinkMaker) -> None:
    """Datagrams that arrive between two reads are neither lost nor reordered."""
    async with make(ManualClock(), LinkLimits()) as (link, send):
        for number in range(20):
            await send(b"%d" % number)
        assert await take(link, 20) == [b"%d" % number for number in range(20)]
        assert link.counts.dropped == 0


async def test_a_waiting_reader_is_woken(make: LinkMaker) -> None:
    """A read that began before the datagram arrived gets it."""
    async with make(ManualClock(), LinkLimits()) as (link, send):
        reading = asyncio.ensure_future(take(link, 1))
        await asyncio.sleep(0)
        await send(b"late")
        assert await reading == [b"late"]


async def test_after_a_stall_everything_is_delivered(make: LinkMaker) -> None:
    """Half a minute of datagrams at 60 a second that nobody read is delivered in order, and nothing is dropped."""
    async with make(ManualClock(), LinkLimits()) as (link, send):
        for number in range(1800):
            await send(b"%d" % number)
        assert link.backlog == 1800
        assert await take(link, 1800) == [b"%d" % number for number in range(1800)]
        assert (link.backlog, link.counts.dropped) == (0, 0)


async def test_the_queue_is_bounded_and_drops_the_oldest(make: LinkMaker) -> None:
    """Without a reader memory stays bounded: the oldest are dropped, counted, and told with the next datagram."""
    async with make(ManualClock(), LinkLimits(max_queued=8)) as (link, send):
        for number in range(20):
            await send(b"%d" % number)
        assert (link.counts.dropped, link.backlog) == (12, 8)
        datagrams = [await anext(link) for _ in range(8)]
        assert [each.data for each in datagrams] == [b"%d" % number for number in range(12, 20)]
        assert [each.dropped for each in datagrams] == [12, *[0] * 7]


async def test_the_queue_is_bounded_in_bytes_too(make: LinkMaker) -> None:
    """Few large datagrams take no more memory than many small ones."""
    async with make(ManualClock(), LinkLimits(max_queued_bytes=100)) as (link, send):
        for number in range(5):
            await send(b"%d" % number * 40)
        assert (link.counts.dropped, link.backlog) == (3, 2)
        await send(b"x" * 100)
        assert await take(link, 1) == [b"x" * 100]
        await send(b"y" * 90)
        assert await take(link, 1) == [b"y" * 90]
        assert link.counts.dropped == 5


async def test_essential_datagrams_are_not_dropped(make: LinkMaker) -> None:
    """A heading that is sent only once stays in a full queue, and what is dropped is missing after it."""
    limits = LinkLimits(max_queued=10, is_essential=lambda data: data.startswith(b"head"))
    async with make(ManualClock(), limits) as (link, send):
        await send(b"heading")
        for number in range(40):
            await send(b"%d" % number)
        assert await take(link, 10) == [b"heading", *(b"%d" % number for number in range(31, 40))]
        assert link.counts.dropped == 31


async def test_the_age_of_the_backlog(make: LinkMaker) -> None:
    """While datagrams wait, everything was read up to the arrival of the oldest; otherwise up to now."""
    clock = ManualClock(5.0)
    async with make(clock, LinkLimits()) as (link, send):
        await send(b"a")
        clock.now_s = 8.0
        await send(b"b")
        assert link.read_until_s(9.0) == 5.0
        await take(link, 1)
        assert link.read_until_s(9.0) == 8.0
        await take(link, 1)
        assert link.read_until_s(9.0) == 9.0


async def test_others_run_while_a_reader_catches_up(make: LinkMaker) -> None:
    """A reader of a long queue gives way, so that the socket is read and the clock ticks."""
    async with make(ManualClock(), LinkLimits()) as (link, send):
        for number in range(200):
            await send(b"%d" % number)
        left: list[int] = []

        async def look() -> None:
            while link.backlog:
                left.append(link.backlog)
                await asyncio.sleep(0)

        looking = asyncio.ensure_future(look())
        await take(link, 200)
        await looking
        assert len(left) >= 10


async def test_empty_datagrams_are_counted_and_delivered(make: LinkMaker) -> None:
    """An empty datagram shows that the sender is alive: it is counted and delivered."""
    async with make(ManualClock(), LinkLimits()) as (link, send):
        await send(b"")
        assert await take(link, 1) == [b""]
        assert link.counts.empty == 1


async def test_a_datagram_of_60_kilobytes_arrives(make: LinkMaker) -> None:
    """A datagram near the limit of UDP arrives whole."""
    async with make(ManualClock(), LinkLimits()) as (link, send):
        await send(b"y" * 60_000)
        assert [len(data) for data in await take(link, 1)] == [60_000]


async def test_the_status_distinguishes_waiting_receiving_silent_and_stopped(make: LinkMaker) -> None:
    """The status differs before the first datagram, during reception, after its end, and after our stop."""
    clock = ManualClock()
    async with make(clock, LinkLimits(silent_s=2.0)) as (link, send):
        assert link.status(clock()) is LinkStatus.WAITING
        assert "nothing has arrived" in link.status_text(clock())
        await send(b"x")
        await take(link, 1)
        assert link.status(clock()) is LinkStatus.RECEIVING
        clock.now_s += 4.0
        assert link.status(clock()) is LinkStatus.SILENT
        assert link.status_text(clock()).endswith("no data for 4 s")
        await send(b"x")
        assert link.status(clock()) is LinkStatus.RECEIVING
    assert link.status(clock()) is LinkStatus.STOPPED


async def test_long_waiting_names_transport_and_likely_reasons(make: LinkMaker) -> None:
    """A link without any datagram names the likely causes after a while."""
    clock = ManualClock()
    async with make(clock, LinkLimits()) as (link, _):
        clock.now_s += 12.0
        kind = link.name.split(" ")[0]
        assert f"nothing has arrived: does the sender use {kind}" in link.status_text(clock())


async def test_stopping_ends_the_iteration_after_queued_datagrams(make: LinkMaker) -> None:
    """Queued datagrams are still delivered, then the iteration ends."""
    async with make(ManualClock(), LinkLimits()) as (link, send):
        await send(b"last")
        link.stop()
        async with asyncio.timeout(10):
            assert [datagram.data async for datagram in link] == [b"last"]
    with pytest.raises(StopAsyncIteration):
        await anext(link)


async def test_a_waiting_read_ends_when_the_link_is_stopped(make: LinkMaker) -> None:
    """No reader waits after the stop."""
    async with make(ManualClock(), LinkLimits()) as (link, _):
        reading = asyncio.ensure_future(anext(link, None))
        await asyncio.sleep(0)
        link.stop()
        async with asyncio.timeout(10):
            assert await reading is None


async def test_closing_leaves_no_task(make: LinkMaker) -> None:
    """After closing, no task of the link runs."""
    before = asyncio.all_tasks()
    async with make(ManualClock(), LinkLimits()) as (link, send):
        await send(b"x")
        assert link.counts.received == 1
    await asyncio.sleep(0)
    assert not [task for task in asyncio.all_tasks() - before if "Link" in repr(task.get_coro())]
