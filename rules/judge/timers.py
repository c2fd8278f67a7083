"""Timers in simulator time: what becomes due, in the order in which it becomes due.

Takes: keys with due times.  Gives: the keys that are due, earliest first; equal times in the order they were set.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator
from typing import TypeAlias

TimerKey: TypeAlias = tuple[str, str, str]
"""What is due, for which gate ('' for none), for which item or watch."""


class Timers:
    """A heap with one due time a key; what was dropped or set anew is passed over when it comes up."""

    def __init__(self) -> None:
        """Nothing is due."""
        self._due: dict[TimerKey, tuple[float, int]] = {}
        self._heap: list[tuple[float, int, TimerKey]] = []
        self._count = 0

    @property
    def next_s(self) -> float:
        """A time before which nothing is due; infinite where nothing waits."""
        return self._heap[0][0] if self._heap else math.inf

    def set(self, key: TimerKey, due_s: float) -> None:
        """Let `key` be due at `due_s`, instead of when it was."""
        self._count += 1
        self._due[key] = (due_s, self._count)
        heapq.heappush(self._heap, (due_s, self._count, key))

    def is_set(self, key: TimerKey) -> bool:
        """Whether `key` is still to come."""
        return key in self._due

    def cancel(self, key: TimerKey) -> None:
        """Let `key` not become due; a key that is not waiting is no error."""
        self._due.pop(key, None)

    def clear(self) -> None:
        """Forget all of them."""
        self._due.clear()
        self._heap.clear()

    def pop_due(self, sim_s: float) -> Iterator[TimerKey]:
        """Take out each key that is due by `sim_s`, also those that are set while this runs."""
        while self._heap and self._heap[0][0] <= sim_s:
            due_s, count, key = heapq.heappop(self._heap)
            if self._due.get(key) == (due_s, count):
                del self._due[key]
                yield key
