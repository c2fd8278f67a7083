"""What every link is: open it, iterate over what arrives, close it; and what it says of itself.

    async with link:
        async for datagram in link: ...

A link never raises for what is in a datagram.  It raises `LinkError` where it cannot open or is taken from us.
While nobody asks, at most `limit` datagrams wait; then the oldest is dropped and counted.  Where more than `backlog`
wait when somebody asks, we have stalled: the newest is handed on and the others are counted as dropped, except those
that `keep` names (a heading that comes once only).

Takes: a clock and bounds.  Gives: `Datagram`s, `Status`, `LinkCounts`.
"""

from __future__ import annotations

import asyncio
import time
from abc import ABC, abstractmethod
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from types import TracebackType
from typing import NamedTuple, Self

MAX_DATAGRAM_BYTES = 1 << 16
"""Bytes of the largest datagram that is handed on."""
_MAX_PEERS = 32

Clock = Callable[[], float]


class Datagram(NamedTuple):
    """What arrived: the bytes, the monotonic clock then (seconds), and from whom."""

    data: bytes
    recv_s: float
    peer: str


class LinkStatus(StrEnum):
    """Where a link stands. Waiting, silent and stopped are three different things."""

    OPENING = "opening"
    WAITING = "waiting"  # open, nothing has arrived yet
    RECEIVING = "receiving"
    SILENT = "silent"  # something had arrived, nothing does any more
    RETRYING = "retrying"  # the other side is not there; it will be tried again
    STOPPED = "stopped"


@dataclass(slots=True)
class LinkCounts:
    """Counters since the link was opened.

    Attributes:
        received: Datagrams that arrived and were let in.
        size: Their bytes.
        dropped: Let in and thrown away, because nobody took them in time.
        empty: Of no bytes.
        oversized: Larger than may be.
        refused: From a peer that is not allowed, or of another topic.
        errors: Troubles that the system reported and reception survived (a closed port on the other side).
        unfinished: Messages of a stream that broke off.
        connections: How often a connection was made.
        peers: The latest peers, each with its datagrams.
    """

    received: int = 0
    byte_count: int = 0
    dropped: int = 0
    empty: int = 0
    oversized: int = 0
    refused: int = 0
    errors: int = 0
    unfinished: int = 0
    connections: int = 0
    peers: dict[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class LinkLimits:
    """How much a link holds.

    Attributes:
        limit: Datagrams that may wait.
        backlog: More than so many waiting means that we have stalled.
        largest: Bytes of the largest datagram.
        silent_s: Seconds without a datagram after which the link is called silent.
        keep: Whether a datagram must survive catching up.
    """

    max_queued: int = 4096
    stall_backlog: int = 64
    max_bytes: int = MAX_DATAGRAM_BYTES
    silent_s: float = 2.0
    is_essential: Callable[[bytes], bool] = field(default=lambda _: False)


class Link(ABC):
    """A way by which datagrams reach us; a subclass opens and closes it and calls `_arrive`."""

    def __init__(self, name: str, *, clock: Clock = time.monotonic, limits: LinkLimits | None = None) -> None:
        """Nothing is opened yet.

        Args:
            name: How messages call this link, such as `udp 127.0.0.1:5139`.
            clock: The monotonic clock in seconds.
            limits: How much it holds.
        """
        self.name = name
        self.clock = clock
        self.limits = limits or LinkLimits()
        self.counts = LinkCounts()
        self.retry_at_s: float | None = None
        self.last_error = ""
        self._queue: deque[Datagram] = deque()
        self._wakeup = asyncio.Event()
        self._status = LinkStatus.OPENING
        self._opened_s = 0.0
        self._last_s: float | None = None
        self._failure: Exception | None = None

    @abstractmethod
    async def _open(self) -> None:
        """Open it; raise `LinkError` where that cannot be done."""

    @abstractmethod
    async def _close(self) -> None:
        """Let go of everything that `_open` took."""

    async def __aenter__(self) -> Self:
        await self._open()
        self._opened_s = self.clock()
        if self._status is LinkStatus.OPENING:
            self._status = LinkStatus.WAITING
        return self

    async def __aexit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:  # fmt: skip
        self.stop()
        await self._close()

    def __aiter__(self) -> Self:
        return self

    async def __anext__(self) -> Datagram:
        while True:
            if len(self._queue) > self.limits.stall_backlog:
                self._catch_up()
            if self._queue:
                return self._queue.popleft()
            if self._failure is not None:
                raise self._failure
            if self._status is LinkStatus.STOPPED:
                raise StopAsyncIteration
            self._wakeup.clear()
            await self._wakeup.wait()

    def stop(self) -> None:
        """End the iteration once what has arrived is taken."""
        self._status = LinkStatus.STOPPED
        self._wakeup.set()

    def status(self, now_s: float) -> LinkStatus:
        """Where the link stands at `now_s` of its clock."""
        if self._status is not LinkStatus.RECEIVING or self._last_s is None:
            return self._status
        return LinkStatus.SILENT if now_s - self._last_s >= self.limits.silent_s else LinkStatus.RECEIVING

    def status_text(self, now_s: float) -> str:
        """One sentence on where the link stands."""
        status = self.status(now_s)
        if status is LinkStatus.SILENT and self._last_s is not None:
            return f"{self.name}: no data for {now_s - self._last_s:.0f} s"
        if status is LinkStatus.WAITING:
            return f"{self.name}: {self._waiting_text(now_s - self._opened_s)}"
        if status is LinkStatus.RETRYING:
            return f"{self.name}: {self.last_error}; {self._retry_text(now_s)}"
        senders = f" from {len(self.counts.peers)} senders" if len(self.counts.peers) > 1 else ""
        return f"{self.name}: {status}{senders if status is LinkStatus.RECEIVING else ''}"

    def _retry_text(self, now_s: float) -> str:
        """When it will be tried again, by us or by the other side."""
        if self.retry_at_s is None:
            return "waiting for the sender to connect again"
        return f"trying again in {max(0.0, self.retry_at_s - now_s):.0f} s"

    def _set_status(self, status: LinkStatus) -> None:
        """Change where the link stands; what was stopped stays stopped."""
        if self._status is not LinkStatus.STOPPED:
            self._status = status

    def _waiting_text(self, open_s: float) -> str:
        """Open, and nothing has come: after a while the likely reasons."""
        if open_s < 5.0:
            return "open, nothing has arrived yet"
        kind = self.name.split(" ", 1)[0]
        return f"open for {open_s:.0f} s, nothing has arrived: does the sender use {kind}, this address and this port?"

    def _enqueue(self, data: bytes, peer: str) -> None:
        """Let one datagram in; takes the same short time whatever is in it."""
        counts = self.counts
        if len(data) > self.limits.max_bytes:
            counts.oversized += 1
            return
        now_s = self.clock()
        counts.received += 1
        counts.byte_count += len(data)
        counts.empty += not data
        if peer in counts.peers or len(counts.peers) < _MAX_PEERS:
            counts.peers[peer] = counts.peers.get(peer, 0) + 1
        self._last_s = now_s
        self._set_status(LinkStatus.RECEIVING)
        if len(self._queue) >= self.limits.max_queued:
            self._drop_oldest()
        self._queue.append(Datagram(data, now_s, peer))
        self._wakeup.set()

    def _fail(self, error: Exception) -> None:
        """The link is gone: what has arrived is still handed on, then the error is raised."""
        self._failure = error
        self._wakeup.set()

    def _drop_oldest(self) -> None:
        """Make room; a datagram that must survive goes behind its successors once."""
        oldest = self._queue.popleft()
        if (
            self.limits.is_essential(oldest.data)
            and self._queue
            and not self.limits.is_essential(self._queue[0].data)
        ):
            self._queue[0] = oldest
        self.counts.dropped += 1

    def _catch_up(self) -> None:
        """Keep the newest, and what must survive."""
        newest = self._queue.pop()
        kept = [datagram for datagram in self._queue if self.limits.is_essential(datagram.data)]
        self.counts.dropped += len(self._queue) - len(kept)
        self._queue = deque([*kept[-self.limits.stall_backlog + 1 :], newest])
