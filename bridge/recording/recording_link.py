"""Provides a link whose datagrams are the messages of a recording.

Takes: a player.  Gives: a `Link` that drops nothing.
"""

from __future__ import annotations

import asyncio
import contextlib
import sys
import time
from collections.abc import Callable

from adapters.links.base import Link, LinkLimits
from bridge.common.time_text import format_sim_time
from bridge.recording.player import RecordingPlayer

_UNBOUNDED = LinkLimits(max_queued=sys.maxsize, max_queued_bytes=sys.maxsize, max_bytes=sys.maxsize)


class RecordingLink(Link):
    """Delivers the messages of a recording when its player says that they are due."""

    def __init__(self, player: RecordingPlayer, *, clock: Callable[[], float] = time.monotonic) -> None:
        super().__init__(f"recording {player.recording.paths[0].name}", clock=clock, limits=_UNBOUNDED)
        self.player = player
        self._changed = asyncio.Event()
        self._task: asyncio.Task[None] | None = None

    async def _open(self) -> None:
        """Start delivering."""
        self.player.on_change = self._changed.set
        self._task = asyncio.get_running_loop().create_task(self._deliver_forever())

    async def _close(self) -> None:
        """Stop delivering."""
        if self._task is not None:
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._task

    async def _deliver_forever(self) -> None:
        """Deliver what is due, then wait for the next message or for a change of the playback."""
        while True:
            for row in self.player.due_messages():
                self._enqueue(row.topic.encode() + b"\n" + row.data, self.name)
            await asyncio.sleep(0)
            self._changed.clear()
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(self.player.next_due_s()):
                    await self._changed.wait()

    def status_text(self, now_s: float) -> str:  # noqa: ARG002 - the player has a clock of its own
        """Return the position and speed of the playback."""
        player, fault = self.player, self.player.recording.fault
        at = format_sim_time(player.position_s)
        if player.ended:
            return f"ended at {at}{f'; {fault.what}' if fault else ''}"
        return f"{at}, {f'at speed {player.speed:g}' if player.playing else 'paused'}"
