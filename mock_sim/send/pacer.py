"""Pace: when something that is due on the flight's clock is sent on the wall's clock.

Takes: times of the flight, a speed-up, and a clock.  Gives: a wait until the moment has come.
"""

from __future__ import annotations

import asyncio
import time
from typing import Protocol

YIELD_EVERY = 20
"""Sends between two turns of the loop when nothing is waited for."""


class Clock(Protocol):
    """A clock that can be waited on; tests bring one of their own."""

    def now_s(self) -> float:
        """Seconds, never going back."""

    async def sleep(self, seconds: float) -> None:
        """Let time pass."""


class WallClock:
    """The clock on the wall."""

    def now_s(self) -> float:
        """Monotonic seconds."""
        return time.monotonic()

    async def sleep(self, seconds: float) -> None:
        """Let time pass."""
        await asyncio.sleep(seconds)


class SendPacer:
    """Waits until something is due.  `late_s` is how far the sender was behind at its worst."""

    def __init__(self, speed: float, clock: Clock) -> None:
        """Begin now.

        Args:
            speed: seconds of the flight in one of the wall; 0: as fast as possible.
            clock: what to wait on.
        """
        self._speed = speed
        self._clock = clock
        self._start_s = clock.now_s()
        self._count = 0
        self.late_s = 0.0

    async def wait_until(self, due_s: float) -> None:
        """Wait until a time of the flight has come.

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
