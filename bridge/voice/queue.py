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

MOST_WAITING = 32


class Priority(IntEnum):
    """The lower the number, the sooner it is said."""

    WARNING = 0
    CALLOUT = 1
    CAUTION = 2
    ADVISORY = 3
    CHALLENGE = 4
    INFORMATION = 5

    @property
    def word(self) -> str:
        """What screens and the page's script call it."""
        return _WORDS[self]


_WORDS = {
    Priority.WARNING: "warning",
    Priority.CALLOUT: "callout",
    Priority.CAUTION: "caution",
    Priority.ADVISORY: "advisory",
    Priority.CHALLENGE: "challenge",
    Priority.INFORMATION: "information",
}

CUTS: dict[Priority, frozenset[Priority]] = {
    Priority.WARNING: frozenset(Priority) - {Priority.WARNING},
    Priority.CALLOUT: frozenset({Priority.CHALLENGE, Priority.INFORMATION}),
}
"""What each priority cuts off while it is being said; the others nothing."""


class Mute(Enum):
    """How much is left unsaid."""

    NOTHING = "nothing"
    BUT_WARNINGS = "but warnings"
    EVERYTHING = "everything"

    def silences(self, priority: Priority) -> bool:
        """Whether what has this priority is left unsaid."""
        return self is Mute.EVERYTHING or (self is Mute.BUT_WARNINGS and priority is not Priority.WARNING)


class End(Enum):
    """How an utterance ended."""

    SPOKEN = "spoken"
    EXPIRED = "expired"  # not worth saying any more
    REPLACED = "replaced"  # by a newer one of its key
    WITHDRAWN = "withdrawn"  # what it tells is so no more
    MUTED = "muted"
    CROWDED_OUT = "crowded out"  # too many were waiting
    CUT_OFF = "cut off"  # for the second time, or the engine failed twice


@dataclass(frozen=True, slots=True)
class Utterance:
    """One thing to say: `key` names what it is about, `ttl_s` is for how long it is worth saying."""

    key: str
    priority: Priority
    text: str
    ttl_s: float


@dataclass(slots=True)
class _Waiting:
    """An utterance in the queue; `until_s` is when it expires."""

    utterance: Utterance
    until_s: float
    cut: bool = False


class SpeechQueue:
    """The utterances of one device or loudspeaker.  Not for several threads.

    `ended` is called with each utterance that left the queue, and how; `counts` has their numbers.
    """

    def __init__(
        self, ended: Callable[[Utterance, End], None] | None = None, most_waiting: int = MOST_WAITING
    ) -> None:
        """Nothing waits.

        Args:
            ended: hears how each utterance ended.
            most_waiting: so many wait at most; the least important gives way.
        """
        self.counts: dict[End, int] = dict.fromkeys(End, 0)
        self.taken = 0
        self.mute = Mute.NOTHING
        self._ended = ended
        self._most = most_waiting
        self._lanes: dict[Priority, deque[_Waiting]] = {priority: deque() for priority in Priority}
        self._held: frozenset[Priority] = frozenset()
        self._held_at_s = 0.0
        self._now: _Waiting | None = None

    @property
    def speaking(self) -> Utterance | None:
        """What is being said."""
        return self._now.utterance if self._now else None

    @property
    def waiting(self) -> list[Utterance]:
        """What waits, in the order in which it will be said."""
        return [one.utterance for one in self._in_order()]

    @property
    def should_stop(self) -> bool:
        """Whether what is being said is to be cut off: for something graver, or to be quiet."""
        if self._now is None:
            return False
        priority = self._now.utterance.priority
        if self.mute.silences(priority) or priority in self._held:
            return True
        return any(self._lanes[other] for other, cut in CUTS.items() if priority in cut and self._free(other))

    def put(self, utterance: Utterance, now_s: float) -> bool:
        """Let an utterance wait for its turn.

        Returns:
            Whether it waits; False where it is muted or crowded out.
        """
        self.taken += 1
        self.expire(now_s)
        if self.mute.silences(utterance.priority):
            return self._end(utterance, End.MUTED)
        self._drop(utterance.key, End.REPLACED)
        until_s = self._clock(utterance.priority, now_s) + utterance.ttl_s
        self._lanes[utterance.priority].append(_Waiting(utterance, until_s))
        return self._make_room() is not utterance

    def next(self, now_s: float) -> Utterance | None:
        """Begin the next utterance; None where nothing may be said, or something is being said."""
        self.expire(now_s)
        if self._now is not None:
            return None
        lane = next((self._lanes[p] for p in Priority if self._lanes[p] and self._free(p)), None)
        if lane is None:
            return None
        self._now = lane.popleft()
        return self._now.utterance

    def done(self) -> None:
        """What was being said was said to its end."""
        if self._now is not None:
            now, self._now = self._now, None
            self._end(now.utterance, End.SPOKEN)

    def cut(self, now_s: float) -> None:
        """What was being said was cut off: it is said once more, if it is still worth saying then."""
        if self._now is None:
            return
        now, self._now = self._now, None
        utterance = now.utterance
        if self.mute.silences(utterance.priority):
            self._end(utterance, End.MUTED)
        elif any(one.utterance.key == utterance.key for one in self._in_order()):
            self._end(utterance, End.REPLACED)
        elif now.cut:
            self._end(utterance, End.CUT_OFF)
        else:
            now.cut = True
            self._lanes[utterance.priority].appendleft(now)
            self.expire(now_s)
            self._make_room()

    def revise(self, utterance: Utterance) -> None:
        """Say this instead, if what has its key is still to be said (again); its place and its time stay."""
        for one in [*self._in_order(), *([self._now] if self._now else [])]:
            if one.utterance.key == utterance.key and one.utterance.priority is utterance.priority:
                one.utterance = utterance

    def withdraw(self, key: str) -> None:
        """Leave unsaid what has this key; what is being said is not said again if it is cut off."""
        self._drop(key, End.WITHDRAWN)
        if self._now is not None and self._now.utterance.key == key:
            self._now.cut = True

    def hold(self, priorities: Collection[Priority], now_s: float) -> None:
        """Hold back these priorities from now on, and no others; a warning is never held.

        Args:
            priorities: those that wait without growing old.
            now_s: the clock.
        """
        held = frozenset(priorities) - {Priority.WARNING}
        if held == self._held:
            return
        self.expire(now_s)
        for priority in self._held:
            for one in self._lanes[priority]:
                one.until_s += now_s - self._held_at_s
        self._held, self._held_at_s = held, now_s

    def silence(self, mute: Mute) -> None:
        """Leave so much unsaid from now on; what waits and is muted goes."""
        self.mute = mute
        for one in list(self._in_order()):
            if mute.silences(one.utterance.priority):
                self._remove(one, End.MUTED)

    def expires_in_s(self, utterance: Utterance, now_s: float) -> float:
        """For how long what waits or is being said is still worth saying, 0 for what is neither."""
        for one in [*self._in_order(), *([self._now] if self._now else [])]:
            if one.utterance is utterance:
                return max(0.0, one.until_s - self._clock(utterance.priority, now_s))
        return 0.0

    def expire(self, now_s: float) -> None:
        """Let go what is not worth saying any more."""
        for one in list(self._in_order()):
            if one.until_s <= self._clock(one.utterance.priority, now_s):
                self._remove(one, End.EXPIRED)

    def _clock(self, priority: Priority, now_s: float) -> float:
        """The time as it counts for a priority: it stands while that is held."""
        return self._held_at_s if priority in self._held else now_s

    def _free(self, priority: Priority) -> bool:
        """Whether what has this priority may be said now."""
        return priority not in self._held

    def _in_order(self) -> Iterator[_Waiting]:
        return (one for priority in Priority for one in self._lanes[priority])

    def _make_room(self) -> Utterance | None:
        """Let the least important go where too many wait: of the lowest priority the one that waited longest."""
        waiting = list(self._in_order())
        if len(waiting) <= self._most:
            return None
        lowest = max(one.utterance.priority for one in waiting)
        gone = self._lanes[lowest][0]
        self._remove(gone, End.CROWDED_OUT)
        return gone.utterance

    def _drop(self, key: str, end: End) -> None:
        for one in list(self._in_order()):
            if one.utterance.key == key:
                self._remove(one, end)

    def _remove(self, one: _Waiting, end: End) -> None:
        self._lanes[one.utterance.priority].remove(one)
        self._end(one.utterance, end)

    def _end(self, utterance: Utterance, end: End) -> bool:
        """Count how it ended; always False."""
        self.counts[end] += 1
        if self._ended is not None:
            self._ended(utterance, end)
        return False
