"""Bounded queue of datagrams that gives them in the order of arrival, and drops those of the sender of which most wait.

A sender that floods the port so takes no room from one that sends little:

    waiting     s1 g1 s2 s3 s4 g2     the queue holds 6; s5 arrives
    delivered   g1 s2 (dropped=1) s3 s4 g2 s5

Takes: datagrams, the limits.  Gives: datagrams, each with the number of those of its sender that were dropped right before it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from adapters.links.base import Datagram

_MAX_SENDERS = 32
"""Senders with a queue of their own; the others share one."""
_OTHERS = ""


@dataclass(slots=True)
class _SenderQueue:
    """Waiting datagrams of one sender, each with its number in the order of arrival, and their bytes."""

    waiting: deque[tuple[int, Datagram]] = field(default_factory=deque)
    size: int = 0


class DatagramQueue:
    """The queue of a link.

    Attributes:
        dropped: Datagrams that were dropped so far.
    """

    def __init__(self, max_count: int, max_bytes: int, is_essential: Callable[[bytes], bool]) -> None:
        """Start empty.

        Args:
            max_count: Datagrams that may wait.
            max_bytes: Bytes of all datagrams that may wait.
            is_essential: True for a datagram that must not be dropped; its successor is dropped instead.
        """
        self.dropped = 0
        self._max_count, self._max_bytes, self._is_essential = max_count, max_bytes, is_essential
        self._senders: dict[str, _SenderQueue] = {}
        self._dropped_before: dict[str, int] = {}
        self._count = self._bytes = self._number = 0

    def __len__(self) -> int:
        """Give the number of datagrams that wait."""
        return self._count

    def append(self, datagram: Datagram, sender: str = "") -> None:
        """Add a datagram; where there is no room, the oldest ones of the sender of which most wait are dropped.

        Args:
            datagram: The datagram.
            sender: Who sent it; '' where the link does not tell senders apart.
        """
        size = len(datagram.data)
        while self._count and (self._count >= self._max_count or self._bytes + size > self._max_bytes):
            self._drop_one()
        known = sender in self._senders or len(self._senders) < _MAX_SENDERS
        queue = self._senders.setdefault(sender if known else _OTHERS, _SenderQueue())
        queue.waiting.append((self._number, datagram))
        queue.size += size
        self._number += 1
        self._count += 1
        self._bytes += size

    def oldest(self) -> Datagram | None:
        """Give the oldest datagram, which stays; None where nothing waits."""
        return self._senders[self._first()].waiting[0][1] if self._count else None

    def pop(self) -> Datagram:
        """Take the oldest datagram."""
        sender = self._first()
        _, datagram = self._senders[sender].waiting.popleft()
        self._subtract(sender, datagram)
        dropped = self._dropped_before.pop(sender, 0) if self._dropped_before else 0
        return datagram._replace(dropped=dropped) if dropped else datagram

    def _first(self) -> str:
        """Give the sender of the oldest datagram."""
        if len(self._senders) == 1:
            return next(iter(self._senders))
        return min(self._senders, key=lambda sender: self._senders[sender].waiting[0][0])

    def _drop_one(self) -> None:
        """Drop the oldest datagram of the sender that takes most of what is short; an essential one takes its successor's place."""
        short_of_places = self._count >= self._max_count
        sender = max(
            self._senders,
            key=lambda each: (
                len(self._senders[each].waiting) if short_of_places else self._senders[each].size
            ),
        )
        queue = self._senders[sender]
        _, datagram = queue.waiting.popleft()
        if queue.waiting and self._is_essential(datagram.data):
            next_number, successor = queue.waiting[0]
            if not self._is_essential(successor.data):
                queue.waiting[0], datagram = (next_number, datagram), successor
        self._subtract(sender, datagram)
        self.dropped += 1
        if sender not in self._dropped_before and len(self._dropped_before) >= _MAX_SENDERS:
            del self._dropped_before[next(iter(self._dropped_before))]
        self._dropped_before[sender] = self._dropped_before.get(sender, 0) + 1

    def _subtract(self, sender: str, datagram: Datagram) -> None:
        """Take a datagram off the counts; a sender of whom nothing waits has no queue."""
        queue = self._senders[sender]
        queue.size -= len(datagram.data)
        self._bytes -= len(datagram.data)
        self._count -= 1
        if not queue.waiting:
            del self._senders[sender]
