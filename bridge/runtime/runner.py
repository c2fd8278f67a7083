"""Sessions on their links, with a clock that ticks and a screen that follows.

Takes: sessions, the way to open the link of each, and where to draw.  Gives: a run that lasts until the caller's
work is done, or the task is cancelled.
"""

from __future__ import annotations

import asyncio
import gc
import io
import time
from collections.abc import Awaitable, Callable, Coroutine, Sequence
from dataclasses import dataclass, field
from typing import Any, TypeVar

from rich.console import Console, RenderableType
from rich.live import Live

from adapters.links.base import Datagram, Link
from bridge.runtime.supervisor import SupervisedLink, supervise_link
from bridge.session.session import Session
from bridge.terminal.live_view import make_console

T = TypeVar("T")

TICK_S = 0.25
"""How often silence is looked for; well under the shortest age limit of a signal."""

DRAW_EVERY_S = 0.25
MAX_DRAW_SHARE = 0.1
"""A busy machine draws less often: at most so much of the time goes into drawing."""


@dataclass(slots=True)
class SessionRunner:
    """One session on one link; each of `beats` is called at each tick, after the session has noticed silence."""

    session: Session
    make_link: Callable[[], Link]
    supervised_link: SupervisedLink
    address: str
    clock: Callable[[], float] = time.monotonic
    tick_callbacks: list[Callable[[], None]] = field(default_factory=list)

    def deliver(self, datagram: Datagram) -> None:
        """Hand a datagram to the session."""
        self.session.receive(datagram.data, datagram.recv_s)
        if self.supervised_link.link is not None:
            self.session.receiver.health.dropped = self.supervised_link.link.counts.dropped

    async def receive_forever(self) -> None:
        """Keep the link open for as long as it lasts."""
        await supervise_link(self.make_link, self.deliver, self.supervised_link, self.clock)

    def tick(self) -> None:
        """Let silence be noticed."""
        self.session.tick(self.clock())
        for beat in self.tick_callbacks:
            beat()

    async def tick_forever(self) -> None:
        """Tick for ever."""
        while True:
            await asyncio.sleep(TICK_S)
            self.tick()


async def run_until(
    runners: Sequence[SessionRunner],
    until: Awaitable[T],
    draw: Callable[[], RenderableType] | None,
    console: Console,
    background: Sequence[Coroutine[Any, Any, None]] = (),
) -> T:
    """Receive and tick, and draw where there is a screen, until `over` is done.

    Args:
        runners: each session and its link.
        until: ends the run when it completes; its exception is the run's.
        draw: makes the present screen; None to draw nothing.
        console: where to draw.
        background: what else goes on meanwhile; cancelled at the end.

    Returns:
        What `over` gave.
    """
    _prepare(draw, console)
    async with asyncio.TaskGroup() as tasks:
        started = [
            tasks.create_task(work) for run in runners for work in (run.receive_forever(), run.tick_forever())
        ]
        started += [tasks.create_task(work) for work in background]
        if draw is not None:
            started.append(tasks.create_task(_redraw_forever(draw, console)))
        try:
            return await until
        finally:
            for task in started:
                task.cancel()


def _prepare(draw: Callable[[], RenderableType] | None, console: Console) -> None:
    """Do what is slow the first time before the link is open, when nobody waits.

    What was loaded (the pack, the units) stays to the end, so that the collector need not look at it again:
    that would stop reception for longer than a fast sender allows.
    """
    if draw is not None:
        nowhere = make_console(io.StringIO())
        nowhere.width = console.width
        nowhere.print(draw())
    gc.collect()
    gc.freeze()


async def _redraw_forever(draw: Callable[[], RenderableType], console: Console) -> None:
    """Draw until cancelled, and once more then."""
    with Live(draw(), console=console, auto_refresh=False, transient=False) as live:
        try:
            cost_s = 0.0
            while True:
                await asyncio.sleep(max(DRAW_EVERY_S, cost_s / MAX_DRAW_SHARE))
                began_s = time.perf_counter()
                live.update(draw(), refresh=True)
                cost_s = time.perf_counter() - began_s
        finally:
            live.update(draw(), refresh=True)
