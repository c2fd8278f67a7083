"""Orderly shutdown: Ctrl-C, SIGTERM and a closed terminal set an event instead of ending the process.

Takes: signals of the operating system.  Gives: an event, and a function that works until the event is set.
"""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Coroutine, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

T = TypeVar("T")

STOP_SIGNALS = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
)


@contextmanager
def stop_on_signal() -> Iterator[asyncio.Event]:
    """Set the event at a stop signal while the block runs.

    If the loop cannot handle signals (Windows, a thread), Ctrl-C remains a KeyboardInterrupt.
    """
    loop, stop = asyncio.get_running_loop(), asyncio.Event()
    handled = [number for number in STOP_SIGNALS if _install_handler(loop, number, stop)]
    try:
        yield stop
    finally:
        for number in handled:
            loop.remove_signal_handler(number)


def _install_handler(loop: asyncio.AbstractEventLoop, number: int, stop: asyncio.Event) -> bool:
    try:
        loop.add_signal_handler(number, stop.set)
    except (NotImplementedError, RuntimeError, ValueError):
        return False
    return True


async def run_unless_stopped(stop: asyncio.Event, work: Coroutine[Any, Any, T]) -> T | None:
    """Run the work; cancel it and return None if the event is set before it is done.

    Raises:
        Exception: any exception of the work.
    """
    working = asyncio.create_task(work)
    waiting = asyncio.create_task(stop.wait())
    try:
        await asyncio.wait((working, waiting), return_when=asyncio.FIRST_COMPLETED)
        return working.result() if working.done() else None
    finally:
        for task in (working, waiting):
            task.cancel()
        await asyncio.gather(working, waiting, return_exceptions=True)
