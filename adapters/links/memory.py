"""In-memory link, a published test double: receives the datagrams that a test passes to it; the program does not use it.

Takes: datagrams through `feed`.  Gives: a `Link`.
"""

from __future__ import annotations

import time

from adapters.links.base import Clock, Link, LinkLimits


class MemoryLink(Link):
    """Test double of a link, without a transport; `feed` adds a datagram."""

    def __init__(
        self, name: str = "memory", *, clock: Clock = time.monotonic, limits: LinkLimits | None = None
    ) -> None:
        """Prepare the link; datagrams may be fed before it is opened."""
        super().__init__(name, clock=clock, limits=limits)

    def feed(self, data: bytes, peer: str = "memory") -> None:
        """Add a datagram with the present time of arrival."""
        self._enqueue(data, peer)

    def close_input(self) -> None:
        """End the iteration after the datagrams that are queued."""
        self.stop()

    async def _open(self) -> None:
        """Do nothing; there is no transport."""

    async def _close(self) -> None:
        """Do nothing; there is no transport."""
