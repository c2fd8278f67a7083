"""Timers in simulator time, in the order of their due times.

Takes: keys with due times.  Gives: the keys that are due, earliest first; equal times in the order in which they were
set.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator
from typing import TypeAlias

TimerKey: TypeAlias = tuple[str, str, str]
"""What is due, for which gate ('' for none), for which item or watch."""

LOOK_AGAIN_S = 1.0
"""Seconds after which is looked again at what could not be decided when it was due."""


class Timers:
    """Heap with one due time for each key; entries that were cancelled or replaced are skipped."""

    def __init__(self) -> None:
        self._due: dict[TimerKey, tuple[float, int]] = {}
        self._heap: list[tuple[float, int, TimerKey]] = []
        self._count = 0

    @property
    def next_s(self) -> float:
        """Time before which no timer is due, in seconds; infinite without timers."""
        return self._heap[0][0] if self._heap else math.inf

    def set(self, key: TimerKey, due_s: float) -> None:
        """Set the due time of a key, replacing an earlier one."""
        self._count += 1
        self._due[key] = (due_s, self._count)
        heapq.heappush(self._heap, (due_s, self._count, key))

    def pending_after(self, at_s: float) -> list[TimerKey]:
        """Keys that are due after a time."""
        return [key for key, (due_s, _) in self._due.items() if due_s > at_s]

    def is_set(self, key: TimerKey) -> bool:
        """True if the key is pending."""
        return key in self._due

    def cancel(self, key: TimerKey) -> None:
        """Cancel a key; a key that is not pending is ignored."""
        self._due.pop(key, None)

    def clear(self) -> None:
        """Cancel all keys."""
        self._due.clear()
        self._heap.clear()

    def pop_due(self, sim_s: float) -> Iterator[TimerKey]:
        """Remove and give each key that is due by `sim_s`, including those set meanwhile.

        A key is given once: one that is set again for the same time waits for the next step, so that no step is endless.
        """
        if self.next_s > sim_s:
            return
        given, again = set[TimerKey](), list[tuple[float, int, TimerKey]]()
        while self._heap and self._heap[0][0] <= sim_s:
            entry = heapq.heappop(self._heap)
            due_s, count, key = entry
            if self._due.get(key) != (due_s, count):
                continue
            if key in given:
                again.append(entry)
                continue
            given.add(key)
            del self._due[key]
            yield key
        for entry in again:
            heapq.heappush(self._heap, entry)
