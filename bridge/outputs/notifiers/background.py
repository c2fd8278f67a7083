"""Runs a blocking function in a daemon thread, so that it cannot delay the end of the program.

The event loop waits for its own thread pool at the end, so one call that hangs in a driver would keep the program running.

Takes: a function.  Gives: its result, in the event loop.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import TypeVar

T = TypeVar("T")


async def run_in_background(work: Callable[[], T], name: str = "background") -> T:
    """Run a function in a thread; if this is cancelled, the function continues and its result is discarded.

    Args:
        work: The function; it must not use the event loop.
        name: The name of the thread.

    Raises:
        Exception: The error that the function raised.
    """
    loop = asyncio.get_running_loop()
    result: asyncio.Future[T] = loop.create_future()

    def set_result(value: T | None, error: BaseException | None) -> None:
        if result.done():
            return
        if error is None:
            result.set_result(value)  # type: ignore[arg-type]  # None only if T includes it
        else:
            result.set_exception(error)

    def run() -> None:
        value: T | None = None
        error: BaseException | None = None
        try:
            value = work()
        except Exception as raised:  # noqa: BLE001 - raised again in the event loop
            error = raised
        with suppress(RuntimeError):  # the event loop has ended
            loop.call_soon_threadsafe(set_result, value, error)

    threading.Thread(target=run, name=name, daemon=True).start()
    return await result
