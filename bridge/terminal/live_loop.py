"""Runs sessions with a live view that is redrawn while they run.

Takes: sessions with their links, a function that draws, a console.  Gives: the result of the caller's work; the last
drawing stays on the screen.
"""

from __future__ import annotations

import asyncio
import io
import time
from collections.abc import Awaitable, Callable, Coroutine, Sequence
from typing import Any, TypeVar

from rich.console import Console, RenderableType
from rich.live import Live

from bridge.runtime.runner import SessionRunner, run_until
from bridge.terminal.console import make_console

T = TypeVar("T")

DRAW_EVERY_S = 0.25
MAX_DRAW_SHARE = 0.1
"""Largest share of the time that goes into drawing; a busy machine draws less often."""


async def run_with_screen(
    runners: Sequence[SessionRunner],
    until: Awaitable[T],
    draw: Callable[[], RenderableType] | None,
    console: Console,
    background: Sequence[Coroutine[Any, Any, None]] = (),
) -> T:
    """Run sessions as `run_until` does, and redraw the screen meanwhile.

    Args:
        runners: each session and its link.
        until: ends the run when it completes; its exception is the run's.
        draw: draws the present state; None for no screen.
        console: where to draw.
        background: further tasks; cancelled at the end.

    Returns:
        The result of `until`.
    """
    if draw is None:
        return await run_until(runners, until, background)
    _draw_once_unseen(draw, console)
    return await run_until(runners, until, [_redraw_forever(draw, console), *background])


def _draw_once_unseen(draw: Callable[[], RenderableType], console: Console) -> None:
    """Draw into memory: the first drawing is slow, so it happens before the link is open."""
    unseen = make_console(io.StringIO())
    unseen.width = console.width
    unseen.print(draw())


async def _redraw_forever(draw: Callable[[], RenderableType], console: Console) -> None:
    """Draw until cancelled, and once more at the end, so that the last state stays on the screen."""
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
