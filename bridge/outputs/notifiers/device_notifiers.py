"""The option `--notify`: connects notifiers to the devices of a watch and prints their problems.

Takes: notifiers and devices.  Gives: messages of every session, and status lines on the console.
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
from bridge.session.session_events import KINDS

POLL_INTERVAL_S = 1.0


class NotifierProblemLog:
    """Emits a line each time the problem of a notifier changes or ends."""

    def __init__(self, group: NotifierGroup, emit: Callable[[str], None]) -> None:
        """Start without problems.

        Args:
            group: The notifiers.
            emit: Called with each line.
        """
        self._group = group
        self._emit = emit
        self._last = dict.fromkeys(group.notifiers, "")

    def update(self, now_s: float) -> None:
        """Compare the problem of each notifier with the last one.

        Args:
            now_s: The monotonic clock.
        """
        for notifier, before in self._last.items():
            if notifier.trouble != before:
                self._last[notifier] = notifier.trouble
                self._emit(f"NOTIFY {notifier.status_text(now_s)}")


@asynccontextmanager
async def notify_from_devices(
    registry: DeviceRegistry,
    notifiers: Sequence[Notifier],
    console: Console,
    *,
    follow: bool,
    clock: Callable[[], float] = time.monotonic,
) -> AsyncIterator[NotifierGroup]:
    """Send the events of every device while the block runs; at its end send the queues within the limits.

    Args:
        registry: The devices.
        notifiers: The notifiers.
        console: Gets the lines; at the end one status line for each notifier.
        follow: True to print problems when they come.
        clock: The monotonic clock in seconds.

    Yields:
        The running group of notifiers.
    """

    def emit(line: str) -> None:
        with suppress(BrokenPipeError):  # the output was closed; the event printer ends the watch
            console.print(line, soft_wrap=True)

    group = NotifierGroup(notifiers)
    for device in registry.devices.values():
        device.bus.subscribe(group.feed(device.id), *KINDS)
    polling = (
        asyncio.create_task(_poll_forever(NotifierProblemLog(group, emit), clock))
        if follow and notifiers
        else None
    )
    try:
        async with group:
            yield group
    finally:
        if polling is not None:
            polling.cancel()
            await asyncio.gather(polling, return_exceptions=True)
        for text in group.status_texts(clock()):
            emit(f"NOTIFY {text}")


async def _poll_forever(problems: NotifierProblemLog, clock: Callable[[], float]) -> None:
    while True:
        await asyncio.sleep(POLL_INTERVAL_S)
        problems.update(clock())
