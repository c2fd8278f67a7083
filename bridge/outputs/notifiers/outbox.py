"""What waits to be sent on one way out: bounded, and never short of a message without saying so.

Verdicts go first where there is no room, then the oldest of the rest; what went is counted by kind, and told to the
receiver in a message `lost` as soon as it can be reached.

Takes: envelopes.  Gives: envelopes in order, `Losses`.
"""

from __future__ import annotations

import asyncio
from collections import Counter, deque
from dataclasses import dataclass, field, replace
from typing import TypeAlias

from bridge.outputs.notifiers.envelope import Envelope, kind_matches

MAX_QUEUED = 1000
LOW_PRIORITY_KINDS = ("verdict",)
"""What the record has anyway, and comes by the hundred."""

_Queued: TypeAlias = tuple[int, Envelope]
"""A message, and how many came before it."""


@dataclass(slots=True)
class MessageLosses:
    """Messages by kind, with the numbers of the first and the latest."""

    kinds: Counter[str] = field(default_factory=Counter)
    first: int = 0
    last: int = 0

    def add(self, message: Envelope) -> None:
        """One more."""
        self.kinds[message.kind] += 1
        self.first = self.first or message.sequence
        self.last = message.sequence

    def __len__(self) -> int:
        """How many."""
        return self.kinds.total()

    def __str__(self) -> str:
        """`3 (2 notice, 1 finding/opened)`."""
        parts = ", ".join(f"{count} {kind}" for kind, count in self.kinds.most_common(4))
        return f"{len(self)} ({parts})"

    def as_message(self, latest: Envelope) -> Envelope:
        """The message that says so.

        Args:
            latest: The latest one that was lost.
        """
        body = {"count": len(self), "first": self.first, "last": self.last, "kinds": dict(self.kinds)}
        return replace(latest, kind="lost", body=body)


class Outbox:
    """A queue for one sender; used in one event loop."""

    def __init__(self, limit: int = MAX_QUEUED) -> None:
        """Empty.

        Args:
            limit: messages that may wait.
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
        """How many wait."""
        return len(self._major) + len(self._minor)

    def put(self, message: Envelope) -> None:
        """Let one more wait; takes the same short time whatever waits."""
        if len(self) >= self._limit:
            self._make_room()
        self._count += 1
        queue = self._minor if kind_matches(message.kind, LOW_PRIORITY_KINDS) else self._major
        queue.append((self._count, message))
        self._available.set()

    async def get(self) -> Envelope | None:
        """The next in order, once there is one; before it, what was lost; None after the end."""
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
        """Nothing more comes: `take` gives what waits, then None."""
        self._closed = True
        self._available.set()

    def drain(self) -> list[Envelope]:
        """Take out all that waits, in order."""
        waiting = sorted((*self._major, *self._minor), key=_arrival_number)
        self._major.clear()
        self._minor.clear()
        self._unreported.clear()
        return [message for _, message in waiting]

    def _next_queue(self) -> deque[_Queued]:
        """The queue whose head came first."""
        if self._major and self._minor:
            return min(self._major, self._minor, key=lambda queue: _arrival_number(queue[0]))
        return self._major or self._minor

    def _make_room(self) -> None:
        _, gone = (self._minor or self._major).popleft()
        self.lost.add(gone)
        of = (gone.device, gone.session)
        losses, _ = self._unreported.get(of, (MessageLosses(), gone))
        losses.add(gone)
        self._unreported[of] = (losses, gone)


def _arrival_number(waiting: _Queued) -> int:
    return waiting[0]
