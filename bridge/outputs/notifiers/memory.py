"""A notifier that keeps its messages in memory: a published test double; the program does not use it.

Takes: envelopes.  Gives: a list of them.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable

from bridge.outputs.notifiers.base import Clock, DeliveryLimits, KindFilter, Notifier, Wait
from bridge.outputs.notifiers.envelope import Envelope


class MemoryNotifier(Notifier):
    """Test double of a notifier: appends messages to `received`; a test can make it fail, or block it by clearing `unblocked`."""

    def __init__(
        self,
        name: str = "memory",
        *,
        error_for: Callable[[Envelope], Exception | None] = lambda _: None,
        limits: DeliveryLimits | None = None,
        kind_filter: KindFilter | None = None,
        clock: Clock = time.monotonic,
        wait: Wait = asyncio.sleep,
    ) -> None:
        """Make an unblocked notifier without messages.

        Args:
            name: As for every notifier.
            error_for: Returns the error to raise for a message, or None to accept it.
            limits: As for every notifier.
            kind_filter: As for every notifier.
            clock: As for every notifier.
            wait: As for every notifier.
        """
        super().__init__(name, limits=limits, kind_filter=kind_filter, clock=clock, wait=wait)
        self.received: list[Envelope] = []
        self.unblocked = asyncio.Event()
        self.unblocked.set()
        self._error_for = error_for

    async def _send(self, message: Envelope) -> None:
        await self.unblocked.wait()
        error = self._error_for(message)
        if error is not None:
            raise error
        self.received.append(message)
