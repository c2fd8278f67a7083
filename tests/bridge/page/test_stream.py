"""Tests of bridge.page.stream: the events of one client, their order, and the end of the stream."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Iterable
from typing import Any

import msgspec
from sse_starlette import ServerSentEvent

from bridge.page.panel_cache import PanelCache
from bridge.page.stream import HEARTBEAT_S, EventFeed, StreamShutdown, event_stream
from tests.contract.waiting import ManualClock


class TickingClock(ManualClock):
    """A clock that advances by a whole heartbeat at each call, so that no test has to wait."""

    def __call__(self) -> float:
        """Advance and return the time, s."""
        self.now_s += HEARTBEAT_S
        return self.now_s


def decoded(event: ServerSentEvent) -> tuple[str, Any]:
    """Return the name and data of an event."""
    return str(event.event), msgspec.json.decode(str(event.data))


async def next_events(stream: AsyncIterator[ServerSentEvent], number: int) -> list[tuple[str, Any]]:
    """Return the next events of a stream."""
    return [decoded(await anext(stream)) for _ in range(number)]


class FakePanels:
    """A cache of one panel whose text is set by the test, with a stream."""

    def __init__(self, feeds: Iterable[EventFeed] = (), clock: ManualClock | None = None) -> None:
        self.text = "one"
        self.cache = PanelCache({"head": lambda: self.text})
        self.shutdown = StreamShutdown(panel_caches=[self.cache])
        clock = clock or ManualClock()
        self.stream = event_stream(self.cache, ["head"], "boot", self.shutdown, tuple(feeds), clock=clock)

    def show(self, text: str) -> None:
        """Change the panel."""
        self.text = text
        self.cache.refresh()


async def test_a_stream_begins_with_the_run_and_all_panels() -> None:
    """The first event is `hello` with the id of the run, then comes every panel."""
    page = FakePanels()
    assert await next_events(page.stream, 2) == [
        ("hello", {"boot": "boot"}),
        ("panel", {"name": "head", "text": "one"}),
    ]


async def test_a_slow_client_gets_only_the_newest_text() -> None:
    """A client that reads after many changes of a panel gets only the last text."""
    page = FakePanels()
    await next_events(page.stream, 2)
    for number in range(50):
        page.show(f"text {number}")
    assert await next_events(page.stream, 1) == [("panel", {"name": "head", "text": "text 49"})]


async def test_a_change_wakes_a_waiting_client() -> None:
    """A client that is up to date waits, and gets the next change at once."""
    page = FakePanels()
    await next_events(page.stream, 2)
    waiting = asyncio.ensure_future(anext(page.stream))
    await asyncio.sleep(0)
    assert not waiting.done()
    page.show("two")
    assert decoded(await waiting) == ("panel", {"name": "head", "text": "two"})


async def test_a_heartbeat_is_sent_without_other_events() -> None:
    """A heartbeat comes after `HEARTBEAT_S` without other events, even if the client is woken all the time."""
    page = FakePanels([lambda: ()], TickingClock())
    await next_events(page.stream, 2)
    assert await next_events(page.stream, 3) == [("heartbeat", {})] * 3


async def test_a_stream_ends_with_bye() -> None:
    """When the page stops, every client gets `bye`, even one that waits, and its stream ends."""
    page = FakePanels()
    await next_events(page.stream, 2)
    waiting = asyncio.ensure_future(anext(page.stream))
    await asyncio.sleep(0)
    page.shutdown.request()
    assert decoded(await waiting) == ("bye", {})
    assert [decoded(event) async for event in page.stream] == []
    assert page.cache.client_count == 0


async def test_a_closed_stream_removes_its_client() -> None:
    """Closing a stream removes its client from the cache."""
    page = FakePanels()
    await next_events(page.stream, 2)
    assert page.cache.client_count == 1
    await page.stream.aclose()  # type: ignore[attr-defined]  # it is a generator
    assert page.cache.client_count == 0


async def test_events_of_feeds_follow_the_panels() -> None:
    """Events of feeds come after the panels, in the order of the feeds."""
    page = FakePanels([lambda: [("speech", 1)], lambda: [("trace", 2), ("trace", 3)]])
    assert [name for name, _ in await next_events(page.stream, 5)] == [
        "hello",
        "panel",
        "speech",
        "trace",
        "trace",
    ]


async def test_a_failing_feed_does_not_stop_the_stream() -> None:
    """If a feed raises, the panels and the other feeds are still sent."""

    def broken() -> Iterable[tuple[str, object]]:
        raise ValueError("broken")

    page = FakePanels([broken, lambda: [("trace", 1)]])
    assert [name for name, _ in await next_events(page.stream, 3)] == ["hello", "panel", "trace"]
