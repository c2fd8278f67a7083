"""Does something that blocks in a thread of its own, which nobody waits for when the program ends.

The loop's own pool is waited for at the end, so one call that hangs in a driver would keep the program from ending.

Takes: a function.  Gives: its result, in the loop.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import TypeVar

T = TypeVar("T")


async def run_in_background(work: Callable[[], T], name: str = "aside") -> T:
    """Do the work elsewhere; where this is cancelled the work goes on and its result is dropped.

    Args:
        work: Blocks; touches nothing of the loop.
        name: The thread's.

    Raises:
        Exception: What the work raised.
    """
    loop = asyncio.get_running_loop()
    result: asyncio.Future[T] = loop.create_future()

    def tell(made: T | None, error: BaseException | None) -> None:
        if result.done():
            return
        if error is None:
            result.set_result(made)  # type: ignore[arg-type]  # None only where T holds it
        else:
            result.set_exception(error)

    def do() -> None:
        made: T | None = None
        error: BaseException | None = None
        try:
            made = work()
        except Exception as raised:  # noqa: BLE001 - it is raised again in the loop
            error = raised
        with suppress(RuntimeError):  # the loop has ended meanwhile
            loop.call_soon_threadsafe(tell, made, error)

    threading.Thread(target=do, name=name, daemon=True).start()
    return await result
