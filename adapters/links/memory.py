"""The in-memory link: a full link whose datagrams are handed in by the program; replays and tests use it.

Takes: datagrams through `feed`.  Gives: a `Link`.
"""

from __future__ import annotations

import time

from adapters.links.base import Clock, Link, LinkLimits


class MemoryLink(Link):
    """Delivers what it is fed."""

    def __init__(
        self, name: str = "memory", *, clock: Clock = time.monotonic, limits: LinkLimits | None = None
    ) -> None:
        """Nothing is opened yet; datagrams may be fed already."""
        super().__init__(name, clock=clock, limits=limits)

    def feed(self, data: bytes, peer: str = "memory") -> None:
        """Let a datagram arrive now."""
        self._enqueue(data, peer)

    def close_input(self) -> None:
        """The sender is done: iteration ends when all is taken."""
        self.stop()

    async def _open(self) -> None:
        """There is nothing to open."""

    async def _close(self) -> None:
        """There is nothing to close."""
