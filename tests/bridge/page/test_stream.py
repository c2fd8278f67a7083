"""Tests of bridge.page.stream: what one client gets, in which order, and how it ends."""

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
    """A clock that is a whole beat on at each look, so that nothing has to be waited for."""

    def __call__(self) -> float:
        """The time, in seconds."""
        self.now_s += HEARTBEAT_S
        return self.now_s


def told(event: ServerSentEvent) -> tuple[str, Any]:
    """An event's name and data."""
    return str(event.event), msgspec.json.decode(str(event.data))


async def some(stream: AsyncIterator[ServerSentEvent], number: int) -> list[tuple[str, Any]]:
    """The next events."""
    return [told(await anext(stream)) for _ in range(number)]


class FakePanels:
    """A board of one panel, with its stream."""

    def __init__(self, extras: Iterable[EventFeed] = (), clock: ManualClock | None = None) -> None:
        """Its text is set by hand."""
        self.text = "one"
        self.board = PanelCache({"head": lambda: self.text})
        self.stop = StreamShutdown(panel_caches=[self.board])
        clock = clock or ManualClock()
        self.stream = event_stream(self.board, ["head"], "boot", self.stop, tuple(extras), clock=clock)

    def show(self, text: str) -> None:
        """Change the panel."""
        self.text = text
        self.board.refresh()


async def test_a_stream_begins_with_which_run_this_is_and_what_is_shown() -> None:
    """First `hello` with the run of the bridge, then every panel as it is now."""
    page = FakePanels()
    assert await some(page.stream, 2) == [
        ("hello", {"boot": "boot"}),
        ("panel", {"name": "head", "text": "one"}),
    ]


async def test_a_client_that_is_slow_gets_only_the_newest() -> None:
    """While a client takes nothing, panels change many times; it then gets the last of them and no other."""
    page = FakePanels()
    await some(page.stream, 2)
    for number in range(50):
        page.show(f"text {number}")
    assert await some(page.stream, 1) == [("panel", {"name": "head", "text": "text 49"})]


async def test_a_client_that_waits_is_woken_by_a_change() -> None:
    """A client that has all waits; the next change comes as soon as it is made."""
    page = FakePanels()
    await some(page.stream, 2)
    waiting = asyncio.ensure_future(anext(page.stream))
    await asyncio.sleep(0)
    assert not waiting.done()
    page.show("two")
    assert told(await waiting) == ("panel", {"name": "head", "text": "two"})


async def test_where_nothing_is_new_a_beat_tells_that_the_bridge_is_there() -> None:
    """After a beat's time without anything else there is a beat, also for a client that is woken all the time."""
    page = FakePanels([lambda: ()], TickingClock())
    await some(page.stream, 2)
    assert await some(page.stream, 3) == [("beat", {})] * 3


async def test_a_stream_ends_with_a_word() -> None:
    """When the page stops, every client is told `bye`, also one that waits, and its stream ends."""
    page = FakePanels()
    await some(page.stream, 2)
    waiting = asyncio.ensure_future(anext(page.stream))
    await asyncio.sleep(0)
    page.stop.request()
    assert told(await waiting) == ("bye", {})
    assert [told(event) async for event in page.stream] == []
    assert page.board.client_count == 0


async def test_a_client_that_goes_is_forgotten() -> None:
    """Closing a stream takes its watcher from the board."""
    page = FakePanels()
    await some(page.stream, 2)
    assert page.board.client_count == 1
    await page.stream.aclose()  # type: ignore[attr-defined]  # it is a generator
    assert page.board.client_count == 0


async def test_extras_follow_the_panels() -> None:
    """What else is sent comes after the panels, in the order of the extras."""
    page = FakePanels([lambda: [("say", 1)], lambda: [("trace", 2), ("trace", 3)]])
    assert [name for name, _ in await some(page.stream, 5)] == ["hello", "panel", "say", "trace", "trace"]


async def test_an_extra_that_fails_stops_nothing() -> None:
    """One extra raises; the panels and the other extras are sent all the same."""

    def broken() -> Iterable[tuple[str, object]]:
        raise ValueError("broken")

    page = FakePanels([broken, lambda: [("trace", 1)]])
    assert [name for name, _ in await some(page.stream, 3)] == ["hello", "panel", "trace"]
