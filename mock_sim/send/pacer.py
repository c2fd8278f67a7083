"""Keeps the pace of sending: waits on the wall clock until a time of the flight is due.

Takes: times of the flight, a speed-up, and a clock.  Gives: a wait until the moment.
"""

from __future__ import annotations

import asyncio
import time
from typing import Protocol

YIELD_EVERY = 20
"""Sends between two turns of the event loop when no wait is needed."""


class Clock(Protocol):
    """A clock that can be waited on; tests bring their own."""

    def now_s(self) -> float:
        """Return seconds that never decrease."""

    async def sleep(self, seconds: float) -> None:
        """Wait for some seconds."""


class WallClock:
    """The monotonic clock of this machine."""

    def now_s(self) -> float:
        """Return monotonic seconds."""
        return time.monotonic()

    async def sleep(self, seconds: float) -> None:
        """Wait for some seconds."""
        await asyncio.sleep(seconds)


class SendPacer:
    """Waits until something is due.  `late_s` is the longest delay so far."""

    def __init__(self, speed: float, clock: Clock) -> None:
        """Start now.

        Args:
            speed: simulated seconds in a real second; 0: as fast as possible.
            clock: waited on.
        """
        self._speed = speed
        self._clock = clock
        self._start_s = clock.now_s()
        self._count = 0
        self.late_s = 0.0

    async def wait_until(self, due_s: float) -> None:
        """Wait until a time of the flight is due.

        Args:
            due_s: seconds of the flight after its beginning.
        """
        left_s = 0.0
        if self._speed:
            left_s = self._start_s + due_s / self._speed - self._clock.now_s()
            self.late_s = max(self.late_s, -left_s)
        self._count += 1
        if left_s > 0:
            await self._clock.sleep(left_s)
        elif self._count % YIELD_EVERY == 0:
            await self._clock.sleep(0)
