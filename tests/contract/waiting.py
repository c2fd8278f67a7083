"""Waits for a condition in another task without sleeping, and a clock that tests set.

Takes: a condition.  Gives: `wait_until`, `ManualClock`.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable


async def wait_until(condition: Callable[[], bool], limit_s: float = 10.0) -> None:
    """Run the event loop until the condition is true; raise TimeoutError after `limit_s`."""
    async with asyncio.timeout(limit_s):
        while not condition():  # noqa: ASYNC110 - the system's sockets have no event to wait for
            await asyncio.sleep(0)


class ManualClock:
    """A clock that changes only when a test sets `now_s`."""

    def __init__(self, now_s: float = 100.0) -> None:
        """Start at a time that is not 0, in seconds."""
        self.now_s = now_s

    def __call__(self) -> float:
        """Give the time in seconds."""
        return self.now_s
