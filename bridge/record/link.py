"""The link of a recording: its datagrams are the recording's messages, when the player says so.

Takes: a player.  Gives: a `Link`; nothing is dropped on it.
"""

from __future__ import annotations

import asyncio
import contextlib
import sys
import time
from collections.abc import Callable

from adapters.links.base import Bounds, Link
from bridge.record.player import Player

_ALL = Bounds(limit=sys.maxsize, backlog=sys.maxsize, largest=sys.maxsize)


class RecordingLink(Link):
    """Delivers the messages of a recording when its player says so."""

    def __init__(self, player: Player, *, clock: Callable[[], float] = time.monotonic) -> None:
        """Nothing is played yet."""
        super().__init__(f"recording {player.recording.paths[0].name}", clock=clock, bounds=_ALL)
        self.player = player
        self._turned = asyncio.Event()
        self._task: asyncio.Task[None] | None = None

    async def _open(self) -> None:
        """Begin to play."""
        self.player.changed = self._turned.set
        self._task = asyncio.get_running_loop().create_task(self._play())

    async def _close(self) -> None:
        """Play no more."""
        if self._task is not None:
            self._task.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await self._task

    async def _play(self) -> None:
        """Deliver what is due, then wait for what comes next or for a knob that is turned; for ever."""
        while True:
            for row in self.player.due():
                self._arrive(row.topic.encode() + b"\n" + row.data, self.name)
            await asyncio.sleep(0)
            self._turned.clear()
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(self.player.wait_s()):
                    await self._turned.wait()

    def words(self, now_s: float) -> str:  # noqa: ARG002 - the player has a clock of its own
        """Where the player is."""
        player, fault = self.player, self.player.recording.fault
        at = clocked(player.position_s)
        if player.ended:
            return f"{self.name}: ended at {at}{f'; {fault.what}' if fault else ''}"
        return f"{self.name}: {at}, {f'at speed {player.speed:g}' if player.playing else 'standing still'}"


def clocked(seconds: float) -> str:
    """`0:10:00` of seconds."""
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02}:{whole % 60:02}"
