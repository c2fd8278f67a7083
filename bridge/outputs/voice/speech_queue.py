"""A queue of utterances by priority: one is spoken at a time, the highest priority first.

- A warning interrupts every lower priority; nothing interrupts a warning.
- A callout must be spoken at its moment: it comes before waiting cautions, and interrupts challenges and information, but not
  cautions and advisories.
- An interrupted utterance is spoken once more from its beginning, if it has not expired by then.
- A newer utterance with the same key replaces the one that waits.
- A held priority (in a quiet period) waits and does not age; if it is being spoken, it is interrupted.

Takes: utterances, and the time with every call.  Gives: the next utterance, and counts of how utterances ended.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from enum import Enum, IntEnum

MAX_WAITING = 32


class SpeechPriority(IntEnum):
    """The priority of an utterance; the lowest number is spoken first."""

    WARNING = 0
    CALLOUT = 1
    CAUTION = 2
    ADVISORY = 3
    CHALLENGE = 4
    INFORMATION = 5

    @property
    def label(self) -> str:
        """The word for it on screens and in the page's script."""
        return _LABELS[self]


_LABELS = {
    SpeechPriority.WARNING: "warning",
    SpeechPriority.CALLOUT: "callout",
    SpeechPriority.CAUTION: "caution",
    SpeechPriority.ADVISORY: "advisory",
    SpeechPriority.CHALLENGE: "challenge",
    SpeechPriority.INFORMATION: "information",
}

PRIORITY_MEANINGS = {
    SpeechPriority.WARNING: "Notices of that level.",
    SpeechPriority.CALLOUT: "Callouts of the pack.",
    SpeechPriority.CAUTION: "Notices of that level.",
    SpeechPriority.ADVISORY: "Notices of that level.",
    SpeechPriority.CHALLENGE: "The challenge of a checklist line; the crew answers.",
    SpeechPriority.INFORMATION: "A reset of the simulator's clock.",
}
"""Descriptions of the priorities for the documents."""

INTERRUPTS: dict[SpeechPriority, frozenset[SpeechPriority]] = {
    SpeechPriority.WARNING: frozenset(SpeechPriority) - {SpeechPriority.WARNING},
    SpeechPriority.CALLOUT: frozenset({SpeechPriority.CHALLENGE, SpeechPriority.INFORMATION}),
}
"""The priorities that each priority interrupts; those without an entry interrupt none."""


class MuteLevel(Enum):
    """The utterances that are muted."""

    NOTHING = "nothing"
    BUT_WARNINGS = "but warnings"
    EVERYTHING = "everything"

    def mutes(self, priority: SpeechPriority) -> bool:
        """True if a priority is muted."""
        return self is MuteLevel.EVERYTHING or (
            self is MuteLevel.BUT_WARNINGS and priority is not SpeechPriority.WARNING
        )


class UtteranceEnd(Enum):
    """The end of an utterance."""

    COMPLETED = "completed"
    EXPIRED = "expired"
    REPLACED = "replaced"  # by a newer one with its key
    WITHDRAWN = "withdrawn"  # no longer true
    MUTED = "muted"
    CROWDED_OUT = "crowded out"  # too many were waiting
    INTERRUPTED = "interrupted"  # for the second time, or the engine failed twice


@dataclass(frozen=True, slots=True)
class Utterance:
    """A text to speak; `key` identifies its subject, `ttl_s` is the time until it expires.

    `notice_count` is the number of notices that it stands for.
    """

    key: str
    priority: SpeechPriority
    text: str
    ttl_s: float
    notice_count: int = 0


@dataclass(slots=True)
class _QueuedUtterance:
    """An utterance in the queue; `until_s` is when it expires."""

    utterance: Utterance
    until_s: float
    interrupted: bool = False


class SpeechQueue:
    """The utterances of one device or speaker; not thread-safe.

    Attributes:
        counts: the number of utterances by their end.
        offered_count: the number of utterances that were put.
        mute: the utterances that are muted.
    """

    def __init__(
        self, on_end: Callable[[Utterance, UtteranceEnd], None] | None = None, max_waiting: int = MAX_WAITING
    ) -> None:
        """Make an empty queue.

        Args:
            on_end: called with each utterance that left the queue, and its end.
            max_waiting: the number of utterances that may wait; of more the least important is dropped.
        """
        self.counts: dict[UtteranceEnd, int] = dict.fromkeys(UtteranceEnd, 0)
        self.offered_count = 0
        self.mute = MuteLevel.NOTHING
        self._on_end = on_end
        self._max_waiting = max_waiting
        self._by_priority: dict[SpeechPriority, deque[_QueuedUtterance]] = {
            priority: deque() for priority in SpeechPriority
        }
        self._held: frozenset[SpeechPriority] = frozenset()
        self._held_at_s = 0.0
        self._current: _QueuedUtterance | None = None

    @property
    def current(self) -> Utterance | None:
        """The utterance that is being spoken, if any."""
        return self._current.utterance if self._current else None

    @property
    def waiting(self) -> list[Utterance]:
        """The waiting utterances in the order in which they will be spoken."""
        return [one.utterance for one in self._in_order()]

    @property
    def should_stop(self) -> bool:
        """True if the present utterance must be interrupted: for another one, or since it is muted or held."""
        if self._current is None:
            return False
        priority = self._current.utterance.priority
        if self.mute.mutes(priority) or priority in self._held:
            return True
        return any(
            self._by_priority[other]
            for other, interrupted in INTERRUPTS.items()
            if priority in interrupted and self._may_speak(other)
        )

    def put(self, utterance: Utterance, now_s: float) -> bool:
        """Add an utterance.

        Args:
            utterance: the utterance.
            now_s: the clock.

        Returns:
            True if it waits; False if it is muted or crowded out.
        """
        self.offered_count += 1
        self.expire(now_s)
        if self.mute.mutes(utterance.priority):
            return self._count_end(utterance, UtteranceEnd.MUTED)
        self._remove_key(utterance.key, UtteranceEnd.REPLACED)
        until_s = self._effective_s(utterance.priority, now_s) + utterance.ttl_s
        self._by_priority[utterance.priority].append(_QueuedUtterance(utterance, until_s))
        return self._make_room() is not utterance

    def next(self, now_s: float) -> Utterance | None:
        """Begin the next utterance that may be spoken; None if all are held, the queue is empty or one is being spoken."""
        self.expire(now_s)
        if self._current is not None:
            return None
        queue = next(
            (self._by_priority[p] for p in SpeechPriority if self._by_priority[p] and self._may_speak(p)),
            None,
        )
        if queue is None:
            return None
        self._current = queue.popleft()
        return self._current.utterance

    def complete(self) -> None:
        """End the present utterance as completed."""
        if self._current is not None:
            ended, self._current = self._current, None
            self._count_end(ended.utterance, UtteranceEnd.COMPLETED)

    def interrupt(self, now_s: float) -> None:
        """Put the interrupted utterance back at the front of its priority; drop it if it was interrupted before.

        Args:
            now_s: the clock.
        """
        if self._current is None:
            return
        stopped, self._current = self._current, None
        utterance = stopped.utterance
        if self.mute.mutes(utterance.priority):
            self._count_end(utterance, UtteranceEnd.MUTED)
        elif any(one.utterance.key == utterance.key for one in self._in_order()):
            self._count_end(utterance, UtteranceEnd.REPLACED)
        elif stopped.interrupted:
            self._count_end(utterance, UtteranceEnd.INTERRUPTED)
        else:
            stopped.interrupted = True
            self._by_priority[utterance.priority].appendleft(stopped)
            self.expire(now_s)
            self._make_room()

    def revise(self, utterance: Utterance) -> None:
        """Replace the text of the utterance with this key; its position and its expiry stay."""
        for one in [*self._in_order(), *([self._current] if self._current else [])]:
            if one.utterance.key == utterance.key and one.utterance.priority is utterance.priority:
                one.utterance = utterance

    def withdraw(self, key: str) -> None:
        """Remove the waiting utterance with this key; if it is being spoken, it is not spoken again after an interruption."""
        self._remove_key(key, UtteranceEnd.WITHDRAWN)
        if self._current is not None and self._current.utterance.key == key:
            self._current.interrupted = True

    def hold(self, priorities: Collection[SpeechPriority], now_s: float) -> None:
        """Hold these priorities from now on, and no others; a warning is never held.

        The clock of a held priority stops.  Put at 0 s with a ttl of 10 s, held from 4 s to 100 s:

            time        0    4   100   106
            time left  10    6     6     0

        Args:
            priorities: the priorities to hold.
            now_s: the clock.
        """
        held = frozenset(priorities) - {SpeechPriority.WARNING}
        if held == self._held:
            return
        self.expire(now_s)
        for priority in self._held:
            for one in self._by_priority[priority]:
                one.until_s += now_s - self._held_at_s
        self._held, self._held_at_s = held, now_s

    def set_mute(self, mute: MuteLevel) -> None:
        """Mute utterances from now on; muted ones that wait are removed."""
        self.mute = mute
        for one in list(self._in_order()):
            if mute.mutes(one.utterance.priority):
                self._remove(one, UtteranceEnd.MUTED)

    def expires_in_s(self, utterance: Utterance, now_s: float) -> float:
        """The time until an utterance expires; 0 if it neither waits nor is being spoken."""
        for one in [*self._in_order(), *([self._current] if self._current else [])]:
            if one.utterance is utterance:
                return max(0.0, one.until_s - self._effective_s(utterance.priority, now_s))
        return 0.0

    def expire(self, now_s: float) -> None:
        """Remove the waiting utterances that have expired."""
        for one in list(self._in_order()):
            if one.until_s <= self._effective_s(one.utterance.priority, now_s):
                self._remove(one, UtteranceEnd.EXPIRED)

    def _effective_s(self, priority: SpeechPriority, now_s: float) -> float:
        """The time that counts for a priority: the start of the hold while it is held."""
        return self._held_at_s if priority in self._held else now_s

    def _may_speak(self, priority: SpeechPriority) -> bool:
        """True if a priority is not held."""
        return priority not in self._held

    def _in_order(self) -> Iterator[_QueuedUtterance]:
        return (one for priority in SpeechPriority for one in self._by_priority[priority])

    def _make_room(self) -> Utterance | None:
        """If too many wait, remove the one of the lowest priority that waited longest, and return it."""
        waiting = list(self._in_order())
        if len(waiting) <= self._max_waiting:
            return None
        lowest = max(one.utterance.priority for one in waiting)
        removed = self._by_priority[lowest][0]
        self._remove(removed, UtteranceEnd.CROWDED_OUT)
        return removed.utterance

    def _remove_key(self, key: str, end: UtteranceEnd) -> None:
        for one in list(self._in_order()):
            if one.utterance.key == key:
                self._remove(one, end)

    def _remove(self, one: _QueuedUtterance, end: UtteranceEnd) -> None:
        self._by_priority[one.utterance.priority].remove(one)
        self._count_end(one.utterance, end)

    def _count_end(self, utterance: Utterance, end: UtteranceEnd) -> bool:
        """Count the end of an utterance and report it; always False."""
        self.counts[end] += 1
        if self._on_end is not None:
            self._on_end(utterance, end)
        return False
