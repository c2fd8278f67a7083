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
from bridge.screen import console_for
from bridge.session import Session
from bridge.supervise import Upkeep, keep_open

T = TypeVar("T")

TICK_S = 0.25
"""How often silence is looked for; well under the shortest age limit of a signal."""

DRAW_EVERY_S = 0.25
DRAW_SHARE = 0.1
"""A busy machine draws less often: at most so much of the time goes into drawing."""


@dataclass(slots=True)
class Run:
    """One session on one link; each of `beats` is called at each tick, after the session has noticed silence."""

    session: Session
    make: Callable[[], Link]
    upkeep: Upkeep
    address: str
    clock: Callable[[], float] = time.monotonic
    beats: list[Callable[[], None]] = field(default_factory=list)

    def take(self, datagram: Datagram) -> None:
        """Hand a datagram to the session."""
        self.session.take(datagram.data, datagram.recv_s)
        if self.upkeep.link is not None:
            self.session.receiver.health.dropped = self.upkeep.link.counts.dropped

    async def receive(self) -> None:
        """Keep the link open for as long as it lasts."""
        await keep_open(self.make, self.take, self.upkeep, self.clock)

    def tick(self) -> None:
        """Let silence be noticed."""
        self.session.tick(self.clock())
        for beat in self.beats:
            beat()

    async def keep_ticking(self) -> None:
        """Tick for ever."""
        while True:
            await asyncio.sleep(TICK_S)
            self.tick()


async def run_until(
    runs: Sequence[Run],
    over: Awaitable[T],
    draw: Callable[[], RenderableType] | None,
    console: Console,
    beside: Sequence[Coroutine[Any, Any, None]] = (),
) -> T:
    """Receive and tick, and draw where there is a screen, until `over` is done.

    Args:
        runs: each session and its link.
        over: ends the run when it completes; its exception is the run's.
        draw: makes the present screen; None to draw nothing.
        console: where to draw.
        beside: what else goes on meanwhile; cancelled at the end.

    Returns:
        What `over` gave.
    """
    _warm_up(draw, console)
    async with asyncio.TaskGroup() as tasks:
        background = [tasks.create_task(work) for run in runs for work in (run.receive(), run.keep_ticking())]
        background += [tasks.create_task(work) for work in beside]
        if draw is not None:
            background.append(tasks.create_task(_follow(draw, console)))
        try:
            return await over
        finally:
            for task in background:
                task.cancel()


def _warm_up(draw: Callable[[], RenderableType] | None, console: Console) -> None:
    """Do what is slow the first time before the link is open, when nobody waits.

    What was loaded (the pack, the units) stays to the end, so that the collector need not look at it again:
    that would stop reception for longer than a fast sender allows.
    """
    if draw is not None:
        nowhere = console_for(io.StringIO())
        nowhere.width = console.width
        nowhere.print(draw())
    gc.collect()
    gc.freeze()


async def _follow(draw: Callable[[], RenderableType], console: Console) -> None:
    """Draw until cancelled, and once more then."""
    with Live(draw(), console=console, auto_refresh=False, transient=False) as live:
        try:
            cost_s = 0.0
            while True:
                await asyncio.sleep(max(DRAW_EVERY_S, cost_s / DRAW_SHARE))
                began_s = time.perf_counter()
                live.update(draw(), refresh=True)
                cost_s = time.perf_counter() - began_s
        finally:
            live.update(draw(), refresh=True)
