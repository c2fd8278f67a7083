"""A session on a link, with a clock that ticks and a screen that follows.

Takes: a session, the way to open its link, and where to draw.  Gives: a run that lasts until the link
ends, the caller's event is set, or the task is cancelled.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import TypeVar

from rich.console import Console, RenderableType
from rich.live import Live

from adapters.links.base import Datagram, Link
from bridge.session import Session
from bridge.supervise import Upkeep, keep_open

T = TypeVar("T")

TICK_S = 0.25
"""How often silence is looked for; well under the shortest age limit of a signal."""

FRAMES_A_SECOND = 4


@dataclass(slots=True)
class Run:
    """One session on one link."""

    session: Session
    make: Callable[[], Link]
    upkeep: Upkeep
    address: str
    clock: Callable[[], float] = time.monotonic

    def take(self, datagram: Datagram) -> None:
        """Hand a datagram to the session."""
        self.session.take(datagram.data, datagram.recv_s)
        if self.upkeep.link is not None:
            self.session.receiver.health.dropped = self.upkeep.link.counts.dropped

    async def receive(self) -> None:
        """Keep the link open for as long as it lasts."""
        await keep_open(self.make, self.take, self.upkeep, self.clock)

    async def tick(self) -> None:
        """Let silence be noticed."""
        while True:
            await asyncio.sleep(TICK_S)
            self.session.tick(self.clock())


async def run_until(
    run: Run, over: Awaitable[T], draw: Callable[[], RenderableType] | None, console: Console
) -> T:
    """Receive and tick, and draw where there is a screen, until `over` is done.

    Args:
        run: the session and its link.
        over: ends the run when it completes; its exception is the run's.
        draw: makes the present screen; None to draw nothing.
        console: where to draw.

    Returns:
        What `over` gave.
    """
    async with asyncio.TaskGroup() as tasks:
        background = [tasks.create_task(run.receive()), tasks.create_task(run.tick())]
        if draw is not None:
            background.append(tasks.create_task(_follow(draw, console)))
        try:
            return await over
        finally:
            for task in background:
                task.cancel()


async def _follow(draw: Callable[[], RenderableType], console: Console) -> None:
    with Live(draw(), console=console, auto_refresh=False, transient=False) as live:
        try:
            while True:
                await asyncio.sleep(1 / FRAMES_A_SECOND)
                live.update(draw(), refresh=True)
        finally:
            live.update(draw(), refresh=True)
