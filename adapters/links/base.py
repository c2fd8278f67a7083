"""Base class of every link: a bounded queue of datagrams, a status and counters.

    async with link:
        async for datagram in link: ...

The content of a datagram never makes a link raise.  It raises `LinkError` where it cannot open, or where the transport
fails later.

What happened while the program could not read is part of the flight, so everything that waits is delivered, and the
program catches up: it judges a hundred times as fast as a simulator sends.  Only when the queue is full (in datagrams or
in bytes) the oldest datagram is dropped, of the sender of which most wait.  It is counted, and the next one of this sender
that is delivered says how many are missing before it:

    waiting     1 2 3 4 5 6 7 8      the queue holds 8, and 9 and 10 arrive
    delivered   3 (dropped=2) 4 5 6 7 8 9 10

An essential datagram (`is_essential`) is one that comes only once, such as the heading of a CSV; its successor is dropped
instead.

Takes: a clock and limits.  Gives: `Datagram`, `LinkStatus`, `LinkCounts`.
"""

from __future__ import annotations

import asyncio
import time
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import TracebackType
from typing import ClassVar, NamedTuple, Self

from adapters.links.datagram_queue import DatagramQueue

MAX_DATAGRAM_BYTES = 1 << 16
"""Bytes of the largest datagram that a link accepts."""
_MAX_PEERS = 32
_READS_PER_TURN = 16

Clock = Callable[[], float]


class Datagram(NamedTuple):
    """One received datagram: its bytes, the monotonic clock at its arrival (seconds), and its sender.

    `dropped` counts the datagrams that the link dropped right before it.
    """

    data: bytes
    recv_s: float
    peer: str
    dropped: int = 0


class LinkStatus(StrEnum):
    """Status of a link; see `STATUS_MEANINGS`."""

    OPENING = "opening"
    WAITING = "waiting"
    RECEIVING = "receiving"
    SILENT = "silent"
    RETRYING = "retrying"
    STOPPED = "stopped"


STATUS_MEANINGS: Mapping[LinkStatus, str] = {
    LinkStatus.OPENING: "The link is being opened.",
    LinkStatus.WAITING: "The link is open; nothing has arrived yet.",
    LinkStatus.RECEIVING: "Datagrams arrive.",
    LinkStatus.SILENT: "Datagrams arrived earlier and no longer do; the text says for how long.",
    LinkStatus.RETRYING: "The other side is absent; the text says when the next try is.",
    LinkStatus.STOPPED: "We ended the link.",
}
"""The table of adapters/README.md."""


@dataclass(slots=True)
class LinkCounts:
    """Counters since the link was opened.

    Attributes:
        received: Datagrams that arrived and were queued.
        byte_count: Bytes of all queued datagrams.
        dropped: Datagrams that were dropped from the full queue before the program read them.
        empty: Datagrams of no bytes.
        oversized: Datagrams larger than `LinkLimits.max_bytes`.
        refused: Datagrams from a peer that is not allowed, or of another topic.
        errors: Errors of the system that did not end reception (such as a closed port on the other side).
        unfinished: Messages of a stream that were incomplete when the connection ended.
        connections: Connections made.
        peers: Datagrams by peer, for the first peers.
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
    """Limits of a link's queue.

    Attributes:
        max_queued: Datagrams that may wait in a link; then one is dropped.  At 60 a second this is 68 s.
        max_queued_bytes: Bytes of all datagrams that may wait in a link; then one is dropped.  With 10 kB a
            datagram, as our own sector has, and 60 a second this is 54 s.
        max_bytes: Bytes of the largest datagram.
        silent_s: Seconds without a datagram after which a link is silent.
        is_essential: True for a datagram that must not be dropped.
    """

    max_queued: int = 4096
    max_queued_bytes: int = 32 << 20
    max_bytes: int = MAX_DATAGRAM_BYTES
    silent_s: float = 2.0
    is_essential: Callable[[bytes], bool] = field(default=lambda _: False)


class Link(ABC):
    """Base class of links; a subclass opens and closes the transport and calls `_enqueue`.

    Attributes:
        tells_senders_apart: True if several senders can send at the same time, and the link knows which one sent what.
    """

    tells_senders_apart: ClassVar[bool] = False

    def __init__(self, name: str, *, clock: Clock = time.monotonic, limits: LinkLimits | None = None) -> None:
        """Prepare the queue.

        Args:
            name: The link's name in messages, such as `udp 127.0.0.1:5139`.
            clock: The monotonic clock in seconds.
            limits: The limits of the queue.
        """
        self.name = name
        self.clock = clock
        self.limits = limits or LinkLimits()
        self.counts = LinkCounts()
        self.retry_at_s: float | None = None
        self.last_error = ""
        limits = self.limits
        self._queue = DatagramQueue(limits.max_queued, limits.max_queued_bytes, limits.is_essential)
        self._reads_in_a_row = 0
        self._wakeup = asyncio.Event()
        self._status = LinkStatus.OPENING
        self._opened_s = 0.0
        self._last_s: float | None = None
        self._failure: Exception | None = None

    @abstractmethod
    async def _open(self) -> None:
        """Open the transport, or raise `LinkError`."""

    @abstractmethod
    async def _close(self) -> None:
        """Release everything that `_open` acquired."""

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
            if self._queue:
                if self._reads_in_a_row < _READS_PER_TURN:
                    self._reads_in_a_row += 1
                    return self._queue.pop()
                # While the program catches up, the socket must be read and the clock must tick too.
                self._reads_in_a_row = 0
                await asyncio.sleep(0)
                continue
            if self._failure is not None:
                raise self._failure
            if self._status is LinkStatus.STOPPED:
                raise StopAsyncIteration
            self._wakeup.clear()
            self._reads_in_a_row = 0
            await self._wakeup.wait()

    @property
    def backlog(self) -> int:
        """Number of datagrams that wait to be read."""
        return len(self._queue)

    def read_until_s(self, now_s: float) -> float:
        """Give the time up to which everything that arrived was read: `now_s`, or the arrival of the oldest that waits."""
        oldest = self._queue.oldest()
        return oldest.recv_s if oldest is not None else now_s

    def stop(self) -> None:
        """End the iteration after the datagrams that are queued."""
        self._status = LinkStatus.STOPPED
        self._wakeup.set()

    def status(self, now_s: float) -> LinkStatus:
        """Give the status at `now_s` of the link's clock."""
        if self._status is not LinkStatus.RECEIVING or self._last_s is None:
            return self._status
        return LinkStatus.SILENT if now_s - self._last_s >= self.limits.silent_s else LinkStatus.RECEIVING

    def status_text(self, now_s: float) -> str:
        """Describe the status in one sentence, without the name of the link."""
        status = self.status(now_s)
        if status is LinkStatus.SILENT and self._last_s is not None:
            return f"no data for {now_s - self._last_s:.0f} s"
        if status is LinkStatus.WAITING:
            return self._waiting_text(now_s - self._opened_s)
        if status is LinkStatus.RETRYING:
            return f"{self.last_error}; {self._retry_text(now_s)}"
        senders = f" from {len(self.counts.peers)} senders" if len(self.counts.peers) > 1 else ""
        return f"{status}{senders if status is LinkStatus.RECEIVING else ''}"

    def _retry_text(self, now_s: float) -> str:
        """Describe when the next try is, ours or the sender's."""
        if self.retry_at_s is None:
            return "waiting for the sender to connect again"
        return f"trying again in {max(0.0, self.retry_at_s - now_s):.0f} s"

    def _set_status(self, status: LinkStatus) -> None:
        """Change the status, unless the link was stopped."""
        if self._status is not LinkStatus.STOPPED:
            self._status = status

    def _waiting_text(self, open_s: float) -> str:
        """Describe an open link without data; after 5 s, name the likely causes."""
        if open_s < 5.0:
            return "open, nothing has arrived yet"
        kind = self.name.split(" ", 1)[0]
        return f"open for {open_s:.0f} s, nothing has arrived: does the sender use {kind}, this address and this port?"

    def _enqueue(self, data: bytes, peer: str) -> None:
        """Queue one datagram and count it."""
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
        self._queue.append(Datagram(data, now_s, peer), peer if self.tells_senders_apart else "")
        counts.dropped = self._queue.dropped
        self._wakeup.set()

    def _fail(self, error: Exception) -> None:
        """End the link: deliver the queued datagrams, then raise the error."""
        self._failure = error
        self._wakeup.set()
