"""Server-sent events for one client: what is new of the panels that it shows, until it goes or the page stops.

Events: `hello` once (which run of the bridge this is), `panel` with a panel's name and text, `say` with what is to be
spoken, `trace` with new rows of a strip, `beat` where nothing else was sent for a while, `bye` at the end.

Takes: a board and the names of panels.  Gives: an asynchronous iterator of events.
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
"""The page says that the bridge is silent after three of these."""

EventFeed = Callable[[], Iterable[tuple[str, object]]]


@dataclass(slots=True)
class StreamShutdown:
    """Tells every stream that the page is about to stop."""

    requested: bool = False
    panel_caches: list[PanelCache] = field(default_factory=list)

    def request(self) -> None:
        """Let every stream end."""
        self.requested = True
        for board in self.panel_caches:
            board.wake_all()


def sse_event(name: str, data: object) -> ServerSentEvent:
    """One event with its data as JSON."""
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
    """Everything for one client.

    Args:
        cache: has the panels.
        names: those that the client shows.
        boot: names this run of the bridge; a client that saw another one loads its page anew.
        shutdown: ends the stream.
        feeds: what else is sent, each asked for its events at every refresh of the board.
        clock: the monotonic clock, in seconds.
    """
    yield sse_event("hello", {"boot": boot})
    with cache.subscribe(names, wake_always=bool(feeds)) as watcher:
        heard_s = clock()
        while not shutdown.requested:
            for name, data in chain(_panel_events(watcher), *(_feed_events(extra) for extra in feeds)):
                yield sse_event(name, data)
                heard_s = clock()
            await _wait_for(watcher.wakeup, heard_s + HEARTBEAT_S - clock())
            if clock() - heard_s >= HEARTBEAT_S:
                yield sse_event("beat", {})
                heard_s = clock()
    yield sse_event("bye", {})


def _panel_events(client: Client) -> Iterable[tuple[str, object]]:
    """What is new of the panels."""
    return [("panel", {"name": name, "text": text}) for name, text in client.updates()]


def _feed_events(extra: EventFeed) -> Iterable[tuple[str, object]]:
    """What an extra has; one that fails is logged, and the rest goes on."""
    try:
        return list(extra())
    except Exception as error:  # noqa: BLE001 - an extra may fail in any way; the client still gets its panels
        structlog.get_logger("page").error("extra failed", extra=type(extra).__name__, why=repr(error))
        return ()


async def _wait_for(wakeup: asyncio.Event, timeout_s: float) -> None:
    """Wait for the bell, for so long at most."""
    with suppress(TimeoutError):
        async with asyncio.timeout(timeout_s):
            await wakeup.wait()
