"""The option `--notify`, and what it does while a flight is watched.

Takes: addresses, and the devices.  Gives: ways out that hear every session, and lines on how they stand.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import asynccontextmanager, suppress

from rich.console import Console

from bridge.outputs.notifiers.base import Notifier
from bridge.outputs.notifiers.group import NotifierGroup
from bridge.runtime.registry import DeviceRegistry

POLL_INTERVAL_S = 1.0


class NotifierProblemLog:
    """Says a line each time that a way out gets into another trouble, or out of it."""

    def __init__(self, group: NotifierGroup, emit: Callable[[str], None]) -> None:
        """Begin with none in trouble.

        Args:
            group: The ways out.
            emit: Takes each line.
        """
        self._group = group
        self._emit = emit
        self._last = dict.fromkeys(group.notifiers, "")

    def update(self, now_s: float) -> None:
        """Look at all of them as they are now."""
        for notifier, before in self._last.items():
            if notifier.trouble != before:
                self._last[notifier] = notifier.trouble
                self._emit(f"TELL {notifier.status_text(now_s)}")


@asynccontextmanager
async def notify_from_devices(
    registry: DeviceRegistry,
    notifiers: Sequence[Notifier],
    console: Console,
    *,
    follow: bool,
    clock: Callable[[], float] = time.monotonic,
) -> AsyncIterator[NotifierGroup]:
    """Let notifiers hear every device while the block runs; at its end they send what they hold, within bounds.

    Args:
        registry: The devices.
        notifiers: The ways out.
        console: Where lines go; at the end one on how each stands.
        follow: Whether troubles are said as they come.
        clock: The monotonic clock in seconds.

    Yields:
        The ways out, running.
    """

    def say(line: str) -> None:
        with suppress(BrokenPipeError):  # nobody reads; who prints what the core says ends the watch
            console.print(line, soft_wrap=True)

    fan = NotifierGroup(notifiers)
    for rig in registry.devices.values():
        rig.add_listener(fan.feed(rig.id))
    looking = (
        asyncio.create_task(_poll_forever(NotifierProblemLog(fan, say), clock))
        if follow and notifiers
        else None
    )
    try:
        async with fan:
            yield fan
    finally:
        if looking is not None:
            looking.cancel()
            await asyncio.gather(looking, return_exceptions=True)
        for words in fan.status_texts(clock()):
            say(f"TELL {words}")


async def _poll_forever(troubles: NotifierProblemLog, clock: Callable[[], float]) -> None:
    while True:
        await asyncio.sleep(POLL_INTERVAL_S)
        troubles.update(clock())
