"""Waiting for something in another task or in the system, without sleeping."""

from __future__ import annotations

import asyncio
from collections.abc import Callable


async def wait_until(condition: Callable[[], bool], limit_s: float = 10.0) -> None:
    """Let the loop turn until the condition holds; fails where it does not within `limit_s`."""
    async with asyncio.timeout(limit_s):
        while not condition():  # noqa: ASYNC110 - there is no event to wait for: the socket is the system's
            await asyncio.sleep(0)


class ManualClock:
    """A clock that stands until it is moved."""

    def __init__(self, now_s: float = 100.0) -> None:
        """Begin at a time that is not 0."""
        self.now_s = now_s

    def __call__(self) -> float:
        """The time, in seconds."""
        return self.now_s
