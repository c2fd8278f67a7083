"""Ends a run in good order: Ctrl-C, a polite kill and a closed terminal set an event instead of cutting it off.

Takes: the signals of the system.  Gives: an event, and a way to do something until it is set.
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
    """While the block runs, a signal to stop sets the event.

    Where the loop cannot take signals (Windows, a thread) Ctrl-C stays a KeyboardInterrupt.
    """
    loop, asked = asyncio.get_running_loop(), asyncio.Event()
    taken = [number for number in STOP_SIGNALS if _install_handler(loop, number, asked)]
    try:
        yield asked
    finally:
        for number in taken:
            loop.remove_signal_handler(number)


def _install_handler(loop: asyncio.AbstractEventLoop, number: int, stop: asyncio.Event) -> bool:
    try:
        loop.add_signal_handler(number, stop.set)
    except (NotImplementedError, RuntimeError, ValueError):
        return False
    return True


async def run_unless_stopped(stop: asyncio.Event, work: Coroutine[Any, Any, T]) -> T | None:
    """Do the work; None where the event was set before it was done, and the work was then cancelled.

    Raises:
        Exception: what the work raised.
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
