"""Sends a client the changes of its panels as server-sent events.

Events: `hello` once, with the id of this run of the bridge; `panel` with a panel's name and text; `speech` with what the
browser speaks; `trace` with new rows of a trace; `heartbeat` if nothing else was sent for a while; `bye` at the end.

Takes: a panel cache and the names of panels.  Gives: an asynchronous iterator of events.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import chain

import msgspec
import structlog
from sse_starlette import ServerSentEvent

from bridge.page.panel_cache import Client, PanelCache

HEARTBEAT_S = 4.0
"""The page reports a lost connection after three of these."""

EventFeed = Callable[[], Iterable[tuple[str, object]]]
"""Gives the new events of one client, each with its name and data."""


@dataclass(slots=True)
class StreamShutdown:
    """Ends every stream when the page stops."""

    requested: bool = False
    panel_caches: list[PanelCache] = field(default_factory=list)

    def request(self) -> None:
        """Let every stream send `bye` and end."""
        self.requested = True
        for cache in self.panel_caches:
            cache.wake_all()


def sse_event(name: str, data: object) -> ServerSentEvent:
    """Encode one event with its data as JSON."""
    return ServerSentEvent(event=name, data=msgspec.json.encode(data).decode())


async def event_stream(
    cache: PanelCache,
    names: Sequence[str],
    boot: str,
    shutdown: StreamShutdown,
    feeds: Sequence[EventFeed] = (),
    *,
    clock: Callable[[], float] = time.monotonic,
) -> AsyncIterator[ServerSentEvent]:
    """Yield all events for one client.

    Args:
        cache: renders the panels.
        names: the panels that the client shows.
        boot: the id of this run of the bridge; a client that saw another id reloads its page.
        shutdown: ends the stream.
        feeds: sources of other events, each asked for its events at every refresh of the cache.
        clock: the monotonic clock, in seconds.
    """
    yield sse_event("hello", {"boot": boot})
    with cache.subscribe(names, wake_always=bool(feeds)) as client:
        last_event_s = clock()
        while not shutdown.requested:
            for name, data in chain(_panel_events(client), *(_feed_events(feed) for feed in feeds)):
                yield sse_event(name, data)
                last_event_s = clock()
            await _wait_for(client.wakeup, last_event_s + HEARTBEAT_S - clock())
            if clock() - last_event_s >= HEARTBEAT_S:
                yield sse_event("heartbeat", {})
                last_event_s = clock()
    yield sse_event("bye", {})


def _panel_events(client: Client) -> Iterable[tuple[str, object]]:
    return [("panel", {"name": name, "text": text}) for name, text in client.updates()]


def _feed_events(feed: EventFeed) -> Iterable[tuple[str, object]]:
    """Return the new events of a feed; log a feed that fails and return no events."""
    try:
        return list(feed())
    except Exception as error:  # noqa: BLE001 - a feed may fail in any way; the client still gets its panels
        structlog.get_logger("page").error("feed failed", feed=type(feed).__name__, why=repr(error))
        return ()


async def _wait_for(wakeup: asyncio.Event, timeout_s: float) -> None:
    """Wait until the client is woken, or until the timeout."""
    with suppress(TimeoutError):
        async with asyncio.timeout(timeout_s):
            await wakeup.wait()
