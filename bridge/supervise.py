"""Keeps a link open: opens it, hands on what arrives, and opens it again when it fails.

Takes: a way to open a link, and what to do with each datagram.  Gives: reception that ends only when told to.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass, field

import structlog

from adapters.links.base import Datagram, Link
from rules.faults import LinkError

FIRST_WAIT_S = 1.0
LONGEST_WAIT_S = 30.0


@dataclass(slots=True)
class Upkeep:
    """What the supervisor has to say of one link: the last failure and when it tries again."""

    failure: str = ""
    retry_at_s: float = 0.0
    openings: int = 0
    failures: int = field(default=0)

    def words(self, now_s: float) -> str:
        """One sentence, '' while all is well."""
        if not self.failure:
            return ""
        return f"{self.failure}; trying again in {max(0.0, self.retry_at_s - now_s):.0f} s"


async def keep_open(
    make: Callable[[], Link],
    take: Callable[[Datagram], None],
    upkeep: Upkeep,
    clock: Callable[[], float],
    wait: Callable[[float], AbstractAsyncContextManager[None]] | None = None,
) -> None:
    """Open the link and hand on its datagrams until it ends by itself; after a failure open it anew.

    Args:
        make: makes a new, unopened link.
        take: called for each datagram, in the event loop; must not raise.
        upkeep: written here, read by the screen.
        clock: the monotonic clock, in seconds.
    """
    log = structlog.get_logger("link")
    wait_s = FIRST_WAIT_S
    while True:
        try:
            async with make() as link:
                upkeep.openings += 1
                upkeep.failure, wait_s = "", FIRST_WAIT_S
                async for datagram in link:
                    take(datagram)
                return
        except LinkError as error:
            upkeep.failures += 1
            upkeep.failure, upkeep.retry_at_s = str(error), clock() + wait_s
            log.warning("link failed", why=str(error), again_in_s=wait_s)
        await asyncio.sleep(wait_s)
        wait_s = min(2 * wait_s, LONGEST_WAIT_S)
