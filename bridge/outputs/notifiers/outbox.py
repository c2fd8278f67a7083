"""The bounded queue of one notifier, which reports every message that it drops.

If the queue is full, the oldest verdict is dropped, or else the oldest message.  Dropped messages are counted by kind and reported
to the receiver in a message `lost` before the next message.

Takes: envelopes.  Gives: envelopes in order, `MessageLosses`.
"""

from __future__ import annotations

import asyncio
from collections import Counter, deque
from dataclasses import dataclass, field, replace
from typing import TypeAlias

from bridge.outputs.notifiers.envelope import Envelope, kind_matches

MAX_QUEUED = 1000
LOW_PRIORITY_KINDS = ("verdict",)
"""Kinds that are dropped first: frequent, and also in the recording."""

_Queued: TypeAlias = tuple[int, Envelope]
"""The number of arrival, and the message."""


@dataclass(slots=True)
class MessageLosses:
    """Lost messages counted by kind, with the numbers of the first and the last one."""

    kinds: Counter[str] = field(default_factory=Counter)
    first: int = 0
    last: int = 0

    def add(self, message: Envelope) -> None:
        """Count one message."""
        self.kinds[message.kind] += 1
        self.first = self.first or message.sequence
        self.last = message.sequence

    def __len__(self) -> int:
        """The number of messages."""
        return self.kinds.total()

    def __str__(self) -> str:
        """Write the counts, such as `3 (2 notice, 1 finding/opened)`."""
        parts = ", ".join(f"{count} {kind}" for kind, count in self.kinds.most_common(4))
        return f"{len(self)} ({parts})"

    def as_message(self, latest: Envelope) -> Envelope:
        """Make the message `lost`.

        Args:
            latest: The latest message that was lost.
        """
        body = {"count": len(self), "first": self.first, "last": self.last, "kinds": dict(self.kinds)}
        return replace(latest, kind="lost", body=body)


class Outbox:
    """A queue for one sender; used in one event loop."""

    def __init__(self, limit: int = MAX_QUEUED) -> None:
        """Make an empty queue.

        Args:
            limit: The number of messages that may wait.
        """
        self._limit = max(1, limit)
        self._count = 0
        self._major: deque[_Queued] = deque()
        self._minor: deque[_Queued] = deque()
        self._available = asyncio.Event()
        self._closed = False
        self._unreported: dict[tuple[str, str], tuple[MessageLosses, Envelope]] = {}
        self.lost = MessageLosses()

    def __len__(self) -> int:
        """The number of waiting messages."""
        return len(self._major) + len(self._minor)

    def put(self, message: Envelope) -> None:
        """Add one message in constant time; drop another one if the queue is full."""
        if len(self) >= self._limit:
            self._make_room()
        self._count += 1
        queue = self._minor if kind_matches(message.kind, LOW_PRIORITY_KINDS) else self._major
        queue.append((self._count, message))
        self._available.set()

    async def get(self) -> Envelope | None:
        """Wait for the next message; losses come before it; None after `close` when the queue is empty."""
        while not len(self):
            if self._closed:
                return None
            self._available.clear()
            await self._available.wait()
        if self._unreported:
            losses, latest = self._unreported.pop(next(iter(self._unreported)))
            return losses.as_message(latest)
        return self._next_queue().popleft()[1]

    def close(self) -> None:
        """Accept no more messages: `get` returns those that wait, then None."""
        self._closed = True
        self._available.set()

    def drain(self) -> list[Envelope]:
        """Remove and return all waiting messages in order."""
        waiting = sorted((*self._major, *self._minor), key=_arrival_number)
        self._major.clear()
        self._minor.clear()
        self._unreported.clear()
        return [message for _, message in waiting]

    def _next_queue(self) -> deque[_Queued]:
        """The queue whose first message arrived earlier.

        major   1     4  5
        minor      2        6     order: 1 2 4 5 6
        """
        if self._major and self._minor:
            return min(self._major, self._minor, key=lambda queue: _arrival_number(queue[0]))
        return self._major or self._minor

    def _make_room(self) -> None:
        _, dropped = (self._minor or self._major).popleft()
        self.lost.add(dropped)
        source = (dropped.device, dropped.session)
        losses, _ = self._unreported.get(source, (MessageLosses(), dropped))
        losses.add(dropped)
        self._unreported[source] = (losses, dropped)


def _arrival_number(waiting: _Queued) -> int:
    return waiting[0]
