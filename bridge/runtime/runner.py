"""Runs sessions on their links, with a tick at a fixed interval.

Takes: sessions, and how to open the link of each.  Gives: a run that lasts until the caller's work is done, or the
task is cancelled.
"""

from __future__ import annotations

import asyncio
import gc
import time
from collections.abc import Awaitable, Callable, Coroutine, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from adapters.links.base import Datagram, Link
from bridge.runtime.device_events import RunnerTicked
from bridge.runtime.supervisor import SupervisedLink, supervise_link
from bridge.session.session import Session

T = TypeVar("T")

TICK_S = 0.25
"""Interval of the checks for old values; much shorter than the shortest age limit of a signal."""


@dataclass(slots=True)
class SessionRunner:
    """One session on one link; publishes each tick after the session's own tick."""

    session: Session
    make_link: Callable[[], Link]
    supervised_link: SupervisedLink
    address: str
    clock: Callable[[], float] = time.monotonic

    def deliver(self, datagram: Datagram) -> None:
        """Pass a datagram to the session."""
        self.session.receive(datagram.data, datagram.recv_s)
        if self.supervised_link.link is not None:
            self.session.receiver.health.dropped = self.supervised_link.link.counts.dropped

    async def receive_forever(self) -> None:
        """Receive until cancelled, and open the link again after failures."""
        await supervise_link(self.make_link, self.deliver, self.supervised_link, self.clock)

    def tick(self) -> None:
        """Advance the session's clock, then publish the tick."""
        now_s = self.clock()
        self.session.tick(now_s)
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
        runners: each session and its link.
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
