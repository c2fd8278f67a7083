"""A clock for tests: it goes on only while somebody waits on it."""

from __future__ import annotations


class ManualClock:
    """Counts what it was asked to wait."""

    def __init__(self) -> None:
        """Begin at an odd time."""
        self.time_s = 1000.0
        self.sleeps: list[float] = []

    def now_s(self) -> float:
        """The time."""
        return self.time_s

    async def sleep(self, seconds: float) -> None:
        """Go on at once."""
        self.sleeps.append(seconds)
        self.time_s += seconds
