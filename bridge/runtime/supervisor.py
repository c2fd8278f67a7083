"""Keeps a link open: opens it, delivers its datagrams, and opens it again after a failure.

Takes: a function that makes a link, and one that receives datagrams.  Gives: reception until it is cancelled.
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field

import structlog

from adapters.back_off import BackOff
from adapters.links.base import Datagram, Link
from rules.faults import LinkError


@dataclass(slots=True)
class SupervisedLink:
    """State of one link; written by `supervise_link`, read by screens."""

    link: Link | None = None
    failure: str = ""
    retry_at_s: float = 0.0
    failures: int = 0
    opened: asyncio.Event = field(default_factory=asyncio.Event)

    @property
    def port(self) -> int:
        """Port of the open link, for a link that was opened at any free port; 0 if it has none."""
        return int(getattr(self.link, "port", 0))

    def describe(self, now_s: float) -> str:
        """Describe the failure and the next attempt; '' while the link is open."""
        if not self.failure:
            return ""
        return f"{self.failure}; trying again in {max(0.0, self.retry_at_s - now_s):.0f} s"


async def supervise_link(
    make_link: Callable[[], Link],
    deliver: Callable[[Datagram], None],
    supervised: SupervisedLink,
    clock: Callable[[], float],
    sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
) -> None:
    """Open the link and deliver its datagrams until it ends; after a failure open it again.

    Args:
        make_link: makes a new, unopened link.
        deliver: called for each datagram, in the event loop; does not raise.
        supervised: the state to update.
        clock: the monotonic clock, in seconds.
        sleep: waits a number of seconds.
    """
    log = structlog.get_logger("link")
    back_off = BackOff()
    while True:
        try:
            async with make_link() as link:
                supervised.link, supervised.failure = link, ""
                back_off.reset()
                supervised.opened.set()
                log.info("link open", link=link.name)
                async for datagram in link:
                    deliver(datagram)
                return
        except LinkError as error:
            supervised.failures += 1
            wait_s = back_off.next_s()
            supervised.failure, supervised.retry_at_s = str(error), clock() + wait_s
            log.warning("link failed", why=str(error), again_in_s=wait_s)
        await sleep(wait_s)
