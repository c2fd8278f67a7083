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

from bridge.page.board import Board, Watcher

BEAT_S = 4.0
"""The page says that the bridge is silent after three of these."""

Extra = Callable[[], Iterable[tuple[str, object]]]


@dataclass(slots=True)
class Stop:
    """Tells every stream that the page is about to stop."""

    asked: bool = False
    boards: list[Board] = field(default_factory=list)

    def ask(self) -> None:
        """Let every stream end."""
        self.asked = True
        for board in self.boards:
            board.ring()


def event(name: str, data: object) -> ServerSentEvent:
    """One event with its data as JSON."""
    return ServerSentEvent(event=name, data=msgspec.json.encode(data).decode())


async def events(
    board: Board,
    names: Sequence[str],
    boot: str,
    stop: Stop,
    extras: Sequence[Extra] = (),
    *,
    clock: Callable[[], float] = time.monotonic,
) -> AsyncIterator[ServerSentEvent]:
    """Everything for one client.

    Args:
        board: has the panels.
        names: those that the client shows.
        boot: names this run of the bridge; a client that saw another one loads its page anew.
        stop: ends the stream.
        extras: what else is sent, each asked for its events at every refresh of the board.
        clock: the monotonic clock, in seconds.
    """
    yield event("hello", {"boot": boot})
    with board.watched(names, restless=bool(extras)) as watcher:
        heard_s = clock()
        while not stop.asked:
            for name, data in chain(_panels(watcher), *(_news_of(extra) for extra in extras)):
                yield event(name, data)
                heard_s = clock()
            await _rung(watcher.bell, heard_s + BEAT_S - clock())
            if clock() - heard_s >= BEAT_S:
                yield event("beat", {})
                heard_s = clock()
    yield event("bye", {})


def _panels(watcher: Watcher) -> Iterable[tuple[str, object]]:
    """What is new of the panels."""
    return [("panel", {"name": name, "text": text}) for name, text in watcher.news()]


def _news_of(extra: Extra) -> Iterable[tuple[str, object]]:
    """What an extra has; one that fails is logged, and the rest goes on."""
    try:
        return list(extra())
    except Exception as error:  # noqa: BLE001 - an extra may fail in any way; the client still gets its panels
        structlog.get_logger("page").error("extra failed", extra=type(extra).__name__, why=repr(error))
        return ()


async def _rung(bell: asyncio.Event, most_s: float) -> None:
    """Wait for the bell, for so long at most."""
    with suppress(TimeoutError):
        async with asyncio.timeout(most_s):
            await bell.wait()
