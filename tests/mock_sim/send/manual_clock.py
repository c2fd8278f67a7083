"""A clock for tests that advances only while a caller waits on it."""

from __future__ import annotations


class ManualClock:
    """Records the waits."""

    def __init__(self) -> None:
        self.time_s = 1000.0
        self.sleeps: list[float] = []

    def now_s(self) -> float:
        """The time."""
        return self.time_s

    async def sleep(self, seconds: float) -> None:
        """Go on at once."""
        self.sleeps.append(seconds)
        self.time_s += seconds
