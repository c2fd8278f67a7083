"""Server-sent events for one client: what is new of the panels that it shows, until it goes or the page stops.

Events: `hello` once (which run of the bridge this is), `panel` with a panel's name and text, `say` with what is to be
spoken, `trace` with new rows of a strip, `beat` where nothing else was sent for a while, `bye` at the end.

Takes: a board and the names of panels.  Gives: an asynchronous iterator of events.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Iterable, Sequence
from dataclasses import dataclass, field

import msgspec
from sse_starlette import ServerSentEvent

from bridge.page.board import Board

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
    board: Board, names: Sequence[str], boot: str, stop: Stop, extras: Sequence[Extra] = ()
) -> AsyncIterator[ServerSentEvent]:
    """Everything for one client.

    Args:
        board: has the panels.
        names: those that the client shows.
        boot: names this run of the bridge; a client that saw another one loads its page anew.
        stop: ends the stream.
        extras: what else is sent, each asked for its events whenever the client is woken.
    """
    yield event("hello", {"boot": boot})
    with board.watched(names) as watcher:
        while not stop.asked:
            sent = False
            for name, text in watcher.news():
                sent = True
                yield event("panel", {"name": name, "text": text})
            for extra in extras:
                for name, data in extra():
                    sent = True
                    yield event(name, data)
            if not await _rung(watcher.bell) and not sent:
                yield event("beat", {})
    yield event("bye", {})


async def _rung(bell: asyncio.Event) -> bool:
    """Wait for the bell, for so long that a beat is due."""
    try:
        async with asyncio.timeout(BEAT_S):
            await bell.wait()
    except TimeoutError:
        return False
    return True
