"""The order of what arrives: new, again, late, lost, or from a clock that jumped back.

    number   newer by 1..: new, the gap is lost         time   forward or equal: new (equal: a pause, or coarse digits)
             the same, same time: duplicate                    back a little: late
             older by a few: late, or duplicate                back by more than a second: a reset
             far away: the sender may have begun anew          far ahead: a jump, or a damaged figure

A late frame never overwrites what is newer.  A number that is newer proves a reset at once; without that proof (no
number, or one that begins anew) a second frame that goes on from the first has to confirm it, so that one straggler
from before a reset cannot make another.  Times count in seconds of the simulator, arrivals on the monotonic clock.

Takes: number, time and arrival of each frame.  Gives: a ruling on each, and counts.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

JUMP_S = 1.0
"""Going back by more than this is a reset, by less is lateness."""
LEAP_S = 60.0
"""Going forward by more than this (and by more than a thousand times the time on the wall) has to be confirmed."""
FASTEST = 1000.0
WINDOW = 64
"""How many frames late a frame can be and still count as late rather than as a sender that began anew."""
FARTHEST = 100_000
"""A larger gap in the numbers is no gap, but another count."""
MEMORY_S = 5.0
"""How long after a reset stragglers from before it are looked for."""
_NEEDED = 1.0
_NEEDED_NEAR = 3.0
"""How many further frames have to go on from one that is in doubt; more where old frames may just be late."""
STILL_S = 1.0
"""The clock stands still for so long, while frames arrive: a pause."""


class Standing(StrEnum):
    """What a frame is, in the order of frames.  NEW and RESET are used, the others are not."""

    NEW = "new"
    RESET = "reset"
    DUPLICATE = "duplicate"
    LATE = "late"
    STRAGGLER = "straggler"
    UNSURE = "unsure"  # may be a reset or a jump; the next frame decides


class Ruling(NamedTuple):
    """What a frame is, the simulator's clock without wraps, and the epoch it belongs to."""

    standing: Standing
    sim_s: float
    epoch: int


class Mark(NamedTuple):
    """One frame's place: number (None: the sender does not count), time, arrival."""

    number: int | None
    time_s: float
    recv_s: float


@dataclass(slots=True)
class OrderCounts:
    """How many frames were what.  A frame that is lost and comes late after all is no longer counted as lost."""

    lost: int = 0
    duplicated: int = 0
    reordered: int = 0
    stragglers: int = 0
    resets: int = 0


@dataclass(slots=True)
class Order:
    """Rules on each frame of one sender.

    Attributes:
        bits: Width of the sender's numbers.
        wrap_s: After how many seconds the sender's clock begins at 0 again; 0: never (2**32 ms is 4294967.296).
        counts: What was ruled so far.
        epoch: Goes up at each reset.
        rate: Simulated seconds in one second on the wall, over about the last second; None: not known yet.
    """

    bits: int = 32
    wrap_s: float = 0.0
    counts: OrderCounts = field(default_factory=OrderCounts)
    epoch: int = 0
    rate: float | None = None
    _last: Mark | None = None
    _before: Mark | None = None  # the last frame before the latest reset
    _doubt: Mark | None = None  # a frame that may be the first of another count
    _doubts: int = 0
    _trust: float = 0.0
    _missing: dict[int, None] = field(default_factory=dict)
    _told_s: float | None = None
    _first_recv_s: float = 0.0
    _moved_recv_s: float = 0.0
    _anchor: tuple[float, float] = (0.0, 0.0)
    _heading: bool = False

    def judge(self, number: int | None, time_s: float | None, recv_s: float) -> Ruling:
        """Rule on one frame.

        Args:
            number: Its sequence number; None where it has none.
            time_s: Its source time; None where it has none: the last one stands, or, where none ever came, the
                time since the first arrival.
            recv_s: The monotonic clock at its arrival.

        Returns:
            What it is. `sim_s` and `epoch` are good to use where it is NEW or RESET.
        """
        mark = Mark(number, self._clock(time_s, recv_s), recv_s)
        last = self._last
        if last is None:
            self._first_recv_s, self._anchor = recv_s, (recv_s, mark.time_s)
            return self._take(mark, Standing.NEW)
        standing = self._standing(mark, last)
        if standing in (Standing.NEW, Standing.RESET):
            return self._take(mark, standing)
        return Ruling(standing, last.time_s, self.epoch)

    def expect_reset(self) -> None:
        """The sender announced its columns again, as after a reset: going back needs no further proof."""
        self._heading = self._last is not None

    def paused(self, recv_s: float) -> bool:
        """Whether frames arrive while the simulator's clock stands still."""
        return (
            self._last is not None
            and recv_s - self._moved_recv_s >= STILL_S
            and self._last.recv_s > self._moved_recv_s
        )

    def _clock(self, time_s: float | None, recv_s: float) -> float:
        """The frame's time, without wraps."""
        last = self._last
        if time_s is None:
            if self._told_s is not None and last is not None:
                return last.time_s
            return recv_s - self._first_recv_s if last is not None else 0.0
        self._told_s = time_s
        if self.wrap_s and last is not None:
            return time_s + round((last.time_s - time_s) / self.wrap_s) * self.wrap_s
        return time_s

    def _standing(self, mark: Mark, last: Mark) -> Standing:
        """What the frame is, beside the last one that was used."""
        ahead_s = mark.time_s - last.time_s
        if ahead_s > JUMP_S and self._from_before(mark):
            self.counts.stragglers += 1
            return Standing.STRAGGLER
        if mark.number is None or last.number is None:
            return self._by_time(mark, last)
        step = self.step(last.number, mark.number)
        if step == 0:
            return self._repeated(mark, last)
        if -WINDOW <= step < 0:
            return self._late(mark, last)
        if step < 0 or step > FARTHEST or self._leaps(mark, last):
            return self._doubtful(mark, last)
        self._gap(last.number, step)
        return Standing.RESET if ahead_s < -JUMP_S else Standing.NEW

    def step(self, earlier: int, later: int) -> int:
        """How far one number is after another, across the wrap; negative: before it."""
        half = 1 << (self.bits - 1)
        return (later - earlier + half) % (2 * half) - half

    def _by_time(self, mark: Mark, last: Mark) -> Standing:
        """The ruling where only time can tell."""
        ahead_s = mark.time_s - last.time_s
        if ahead_s < -JUMP_S:
            return Standing.RESET if self._heading else self._doubtful(mark, last)
        if ahead_s < 0:
            self.counts.reordered += 1
            return Standing.LATE
        return self._doubtful(mark, last) if self._leaps(mark, last) else Standing.NEW

    def _repeated(self, mark: Mark, last: Mark) -> Standing:
        """The same number again: a duplicate, unless the clock went on and the sender's count is stuck."""
        if mark.time_s == last.time_s:
            self.counts.duplicated += 1
            return Standing.DUPLICATE
        return self._by_time(mark, last)

    def _late(self, mark: Mark, last: Mark) -> Standing:
        """An older number: late if it was missed; else a straggler or duplicate, or a sender that began anew."""
        ahead_s = mark.time_s - last.time_s
        if mark.number in self._missing and ahead_s <= JUMP_S:
            del self._missing[mark.number]
            self.counts.lost -= 1
            self.counts.reordered += 1
            return Standing.LATE
        if -JUMP_S <= ahead_s <= 0:
            self.counts.duplicated += 1
            return Standing.DUPLICATE
        return self._doubtful(mark, last, _NEEDED_NEAR)

    def _gap(self, earlier: int, step: int) -> None:
        """Count what was left out, and remember its latest part, which may still come."""
        if step == 1:
            return
        self.counts.lost += step - 1
        top = 1 << self.bits
        for back in range(max(1, step - WINDOW), step):
            self._missing[(earlier + back) % top] = None
        while len(self._missing) > WINDOW:
            del self._missing[next(iter(self._missing))]

    def _leaps(self, mark: Mark, last: Mark) -> bool:
        """Whether time goes forward by more than a simulator can."""
        ahead_s = mark.time_s - last.time_s
        return ahead_s > LEAP_S and ahead_s > FASTEST * (mark.recv_s - last.recv_s)

    def _from_before(self, mark: Mark) -> bool:
        """Whether a frame that is ahead is a straggler from before the latest reset."""
        old = self._before
        if old is None or mark.recv_s - old.recv_s > MEMORY_S:
            return False
        if old.number is not None and mark.number is not None and self.step(old.number, mark.number) > 0:
            return False
        return old.time_s - 2 * MEMORY_S <= mark.time_s <= old.time_s + JUMP_S

    def _doubtful(self, mark: Mark, last: Mark, needed: float = _NEEDED) -> Standing:
        """A frame that fits nothing before it: believed when the next ones go on from it."""
        doubt = self._doubt
        goes_on = doubt is not None and self._goes_on(doubt, mark)
        newer = doubt is not None and (mark.time_s > doubt.time_s or mark.number is not None)
        self._trust = self._trust + (1.0 if newer else 0.5) if goes_on else 0.0
        self._doubts += 1
        if self._trust < needed:
            self._doubt = mark
            return Standing.UNSURE
        self._doubts = 0
        self._missing.clear()
        return Standing.RESET if mark.time_s < last.time_s - JUMP_S else Standing.NEW

    def _goes_on(self, doubt: Mark, mark: Mark) -> bool:
        """Whether one doubtful frame is the next one of the same count as another."""
        numbered = doubt.number is not None and mark.number is not None
        if numbered and not 0 < self.step(doubt.number or 0, mark.number or 0) <= WINDOW:
            return False
        limit_s = max(JUMP_S, FASTEST * (mark.recv_s - doubt.recv_s))
        return 0 <= mark.time_s - doubt.time_s <= limit_s

    def _take(self, mark: Mark, standing: Standing) -> Ruling:
        """Make this the last frame used."""
        last = self._last
        if standing is Standing.RESET:
            self._before = self._end_of_epoch(last, mark) if last else None
            self.epoch += 1
            self.counts.resets += 1
            mark = mark._replace(time_s=self._told_s if self._told_s is not None else mark.time_s)
            self._anchor = (mark.recv_s, mark.time_s)
        elif last is not None and mark.time_s < last.time_s:
            mark = mark._replace(time_s=last.time_s)
        if last is None or mark.time_s != last.time_s:
            self._moved_recv_s = mark.recv_s
        self.counts.stragglers += self._doubts
        self._doubt, self._doubts, self._trust, self._heading = None, 0, 0.0, False
        self._last = mark
        self._measure(mark)
        return Ruling(standing, mark.time_s, self.epoch)

    def _end_of_epoch(self, last: Mark, mark: Mark) -> Mark:
        """The last place before a reset: up to its number and around its time, frames are stragglers."""
        number = last.number
        if number is not None and mark.number is not None and 0 < self.step(number, mark.number) <= FARTHEST:
            number = (mark.number - 1) % (1 << self.bits)
        return Mark(number, last.time_s, mark.recv_s)

    def _measure(self, mark: Mark) -> None:
        """Estimate the simulation's rate about once a second."""
        recv_s, time_s = self._anchor
        if mark.recv_s - recv_s >= STILL_S:
            self.rate = (mark.time_s - time_s) / (mark.recv_s - recv_s)
            self._anchor = (mark.recv_s, mark.time_s)
