"""What waits to be said, and what is being said: one at a time, the gravest first.

- A warning cuts off whatever lower is being said; nothing cuts off a warning, and nothing talks over it.
- A callout is said at its moment or not at all: it goes before cautions that wait, and cuts off what is merely read
  (challenges, information); cautions and advisories are let finish.
- What was cut off is said once more from its beginning, if it is still worth saying then.
- A newer utterance of the same key takes the place of the one that waits.
- What is held (a quiet period) waits without growing old; what is being said then is cut off.

Takes: utterances, and the time with every request.  Gives: the next one to say, and a count of how each ended.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from enum import Enum, IntEnum

MAX_WAITING = 32


class SpeechPriority(IntEnum):
    """The lower the number, the sooner it is said."""

    WARNING = 0
    CALLOUT = 1
    CAUTION = 2
    ADVISORY = 3
    CHALLENGE = 4
    INFORMATION = 5

    @property
    def label(self) -> str:
        """What screens and the page's script call it."""
        return _WORDS[self]


_WORDS = {
    SpeechPriority.WARNING: "warning",
    SpeechPriority.CALLOUT: "callout",
    SpeechPriority.CAUTION: "caution",
    SpeechPriority.ADVISORY: "advisory",
    SpeechPriority.CHALLENGE: "challenge",
    SpeechPriority.INFORMATION: "information",
}

INTERRUPTS: dict[SpeechPriority, frozenset[SpeechPriority]] = {
    SpeechPriority.WARNING: frozenset(SpeechPriority) - {SpeechPriority.WARNING},
    SpeechPriority.CALLOUT: frozenset({SpeechPriority.CHALLENGE, SpeechPriority.INFORMATION}),
}
"""What each priority cuts off while it is being said; the others nothing."""


class MuteLevel(Enum):
    """How much is left unsaid."""

    NOTHING = "nothing"
    BUT_WARNINGS = "but warnings"
    EVERYTHING = "everything"

    def mutes(self, priority: SpeechPriority) -> bool:
        """Whether what has this priority is left unsaid."""
        return self is MuteLevel.EVERYTHING or (
            self is MuteLevel.BUT_WARNINGS and priority is not SpeechPriority.WARNING
        )


class UtteranceEnd(Enum):
    """How an utterance ended."""

    COMPLETED = "spoken"
    EXPIRED = "expired"  # not worth saying any more
    REPLACED = "replaced"  # by a newer one of its key
    WITHDRAWN = "withdrawn"  # what it tells is so no more
    MUTED = "muted"
    CROWDED_OUT = "crowded out"  # too many were waiting
    INTERRUPTED = "cut off"  # for the second time, or the engine failed twice


@dataclass(frozen=True, slots=True)
class Utterance:
    """One thing to say: `key` names what it is about, `ttl_s` is for how long it is worth saying."""

    key: str
    priority: SpeechPriority
    text: str
    ttl_s: float


@dataclass(slots=True)
class _QueuedUtterance:
    """An utterance in the queue; `until_s` is when it expires."""

    utterance: Utterance
    until_s: float
    interrupted: bool = False


class SpeechQueue:
    """The utterances of one device or loudspeaker.  Not for several threads.

    `ended` is called with each utterance that left the queue, and how; `counts` has their numbers.
    """

    def __init__(
        self, on_end: Callable[[Utterance, UtteranceEnd], None] | None = None, max_waiting: int = MAX_WAITING
    ) -> None:
        """Nothing waits.

        Args:
            on_end: hears how each utterance ended.
            max_waiting: so many wait at most; the least important gives way.
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
        """What is being said."""
        return self._current.utterance if self._current else None

    @property
    def waiting(self) -> list[Utterance]:
        """What waits, in the order in which it will be said."""
        return [one.utterance for one in self._in_order()]

    @property
    def should_stop(self) -> bool:
        """Whether what is being said is to be cut off: for something graver, or to be quiet."""
        if self._current is None:
            return False
        priority = self._current.utterance.priority
        if self.mute.mutes(priority) or priority in self._held:
            return True
        return any(
            self._by_priority[other]
            for other, cut in INTERRUPTS.items()
            if priority in cut and self._may_speak(other)
        )

    def put(self, utterance: Utterance, now_s: float) -> bool:
        """Let an utterance wait for its turn.

        Returns:
            Whether it waits; False where it is muted or crowded out.
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
        """Begin the next utterance; None where nothing may be said, or something is being said."""
        self.expire(now_s)
        if self._current is not None:
            return None
        lane = next(
            (self._by_priority[p] for p in SpeechPriority if self._by_priority[p] and self._may_speak(p)),
            None,
        )
        if lane is None:
            return None
        self._current = lane.popleft()
        return self._current.utterance

    def complete(self) -> None:
        """What was being said was said to its end."""
        if self._current is not None:
            now, self._current = self._current, None
            self._count_end(now.utterance, UtteranceEnd.COMPLETED)

    def interrupt(self, now_s: float) -> None:
        """What was being said was cut off: it is said once more, if it is still worth saying then."""
        if self._current is None:
            return
        now, self._current = self._current, None
        utterance = now.utterance
        if self.mute.mutes(utterance.priority):
            self._count_end(utterance, UtteranceEnd.MUTED)
        elif any(one.utterance.key == utterance.key for one in self._in_order()):
            self._count_end(utterance, UtteranceEnd.REPLACED)
        elif now.interrupted:
            self._count_end(utterance, UtteranceEnd.INTERRUPTED)
        else:
            now.interrupted = True
            self._by_priority[utterance.priority].appendleft(now)
            self.expire(now_s)
            self._make_room()

    def revise(self, utterance: Utterance) -> None:
        """Say this instead, if what has its key is still to be said (again); its place and its time stay."""
        for one in [*self._in_order(), *([self._current] if self._current else [])]:
            if one.utterance.key == utterance.key and one.utterance.priority is utterance.priority:
                one.utterance = utterance

    def withdraw(self, key: str) -> None:
        """Leave unsaid what has this key; what is being said is not said again if it is cut off."""
        self._remove_key(key, UtteranceEnd.WITHDRAWN)
        if self._current is not None and self._current.utterance.key == key:
            self._current.interrupted = True

    def hold(self, priorities: Collection[SpeechPriority], now_s: float) -> None:
        """Hold back these priorities from now on, and no others; a warning is never held.

        Args:
            priorities: those that wait without growing old.
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
        """Leave so much unsaid from now on; what waits and is muted goes."""
        self.mute = mute
        for one in list(self._in_order()):
            if mute.mutes(one.utterance.priority):
                self._remove(one, UtteranceEnd.MUTED)

    def expires_in_s(self, utterance: Utterance, now_s: float) -> float:
        """For how long what waits or is being said is still worth saying, 0 for what is neither."""
        for one in [*self._in_order(), *([self._current] if self._current else [])]:
            if one.utterance is utterance:
                return max(0.0, one.until_s - self._effective_s(utterance.priority, now_s))
        return 0.0

    def expire(self, now_s: float) -> None:
        """Let go what is not worth saying any more."""
        for one in list(self._in_order()):
            if one.until_s <= self._effective_s(one.utterance.priority, now_s):
                self._remove(one, UtteranceEnd.EXPIRED)

    def _effective_s(self, priority: SpeechPriority, now_s: float) -> float:
        """The time as it counts for a priority: it stands while that is held."""
        return self._held_at_s if priority in self._held else now_s

    def _may_speak(self, priority: SpeechPriority) -> bool:
        """Whether what has this priority may be said now."""
        return priority not in self._held

    def _in_order(self) -> Iterator[_QueuedUtterance]:
        return (one for priority in SpeechPriority for one in self._by_priority[priority])

    def _make_room(self) -> Utterance | None:
        """Let the least important go where too many wait: of the lowest priority the one that waited longest."""
        waiting = list(self._in_order())
        if len(waiting) <= self._max_waiting:
            return None
        lowest = max(one.utterance.priority for one in waiting)
        gone = self._by_priority[lowest][0]
        self._remove(gone, UtteranceEnd.CROWDED_OUT)
        return gone.utterance

    def _remove_key(self, key: str, end: UtteranceEnd) -> None:
        for one in list(self._in_order()):
            if one.utterance.key == key:
                self._remove(one, end)

    def _remove(self, one: _QueuedUtterance, end: UtteranceEnd) -> None:
        self._by_priority[one.utterance.priority].remove(one)
        self._count_end(one.utterance, end)

    def _count_end(self, utterance: Utterance, end: UtteranceEnd) -> bool:
        """Count how it ended; always False."""
        self.counts[end] += 1
        if self._on_end is not None:
            self._on_end(utterance, end)
        return False
