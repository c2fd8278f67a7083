"""Runs sessions on their sources of frames, with a tick at a fixed interval.

Takes: sessions, and the source of each.  Gives: a run that lasts until the caller's work is done, or the
task is cancelled.
"""

from __future__ import annotations

import asyncio
import gc
from collections.abc import Awaitable, Coroutine, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from adapters.frame_source import FrameSource
from bridge.runtime.device_events import RunnerTicked
from bridge.session.session import Session
from rules.signals.model import Frame

T = TypeVar("T")

TICK_S = 0.25
"""Interval of the checks for old values; much shorter than the shortest age limit of a signal."""


@dataclass(slots=True)
class SessionRunner:
    """The present session of one source; publishes each tick after the session's own tick."""

    session: Session
    source: FrameSource

    async def receive_forever(self) -> None:
        """Judge each frame until cancelled."""
        await self.source.receive_frames(self.judge_frame)

    def judge_frame(self, frame: Frame) -> None:
        """Judge a frame in the present session, which may be another one than at the frame before."""
        self.session.judge_frame(frame)

    def tick(self) -> None:
        """Advance the session's clock, then publish the tick."""
        now_s = self.source.clock()
        self.session.tick(now_s, self.source.delivered_until_s())
        self.session.bus.publish(RunnerTicked(now_s))

    async def tick_forever(self) -> None:
        """Tick until cancelled."""
        while True:
            await asyncio.sleep(TICK_S)
            self.tick()


async def run_until(
    runners: Sequence[SessionRunner],
    until: Awaitable[T],
    background: Sequence[Coroutine[Any, Any, None]] = (),
) -> T:
    """Receive and tick until `until` is done.

    Args:
        runners: each session and its source.
        until: ends the run when it completes; its exception is the run's.
        background: further tasks; cancelled at the end.

    Returns:
        The result of `until`.
    """
    _exclude_loaded_objects_from_collection()
    async with asyncio.TaskGroup() as tasks:
        started = [
            tasks.create_task(work) for run in runners for work in (run.receive_forever(), run.tick_forever())
        ]
        started += [tasks.create_task(work) for work in background]
        try:
            return await until
        finally:
            for task in started:
                task.cancel()


def _exclude_loaded_objects_from_collection() -> None:
    """Freeze the loaded objects (the pack, the units): they live to the end.

    A collection that visits them would stop reception for longer than a fast sender allows.
    """
    gc.collect()
    gc.freeze()
