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

RESET_STEP_S = 1.0
"""Going back by more than this is a reset, by less is lateness."""
LEAP_FORWARD_S = 60.0
"""Going forward by more than this (and by more than a thousand times the time on the wall) has to be confirmed."""
MAX_TIME_RATIO = 1000.0
REORDER_WINDOW = 64
"""How many frames late a frame can be and still count as late rather than as a sender that began anew."""
MAX_NUMBER_GAP = 100_000
"""A larger gap in the numbers is no gap, but another count."""
STALE_WINDOW_S = 5.0
"""How long after a reset stragglers from before it are looked for."""
_CONFIRMATIONS = 1.0
_CONFIRMATIONS_NEAR = 3.0
"""How many further frames have to go on from one that is in doubt; more where old frames may just be late."""
PAUSE_AFTER_S = 1.0
"""The clock stands still for so long, while frames arrive: a pause."""


class FrameStatus(StrEnum):
    """What a frame is, in the order of frames.  NEW and RESET are used, the others are not."""

    NEW = "new"
    RESET = "reset"
    DUPLICATE = "duplicate"
    LATE = "late"
    STALE = "straggler"
    UNCONFIRMED = "unsure"  # may be a reset or a jump; the next frame decides


class TrackedFrame(NamedTuple):
    """What a frame is, the simulator's clock without wraps, and the epoch it belongs to."""

    status: FrameStatus
    sim_s: float
    epoch: int


class SequencePoint(NamedTuple):
    """One frame's place: number (None: the sender does not count), time, arrival."""

    number: int | None
    time_s: float
    recv_s: float


@dataclass(slots=True)
class SequenceCounts:
    """How many frames were what.  A frame that is lost and comes late after all is no longer counted as lost."""

    lost: int = 0
    duplicated: int = 0
    reordered: int = 0
    stale: int = 0
    resets: int = 0


@dataclass(slots=True)
class SequenceTracker:
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
    counts: SequenceCounts = field(default_factory=SequenceCounts)
    epoch: int = 0
    rate: float | None = None
    _last: SequencePoint | None = None
    _end_of_last_epoch: SequencePoint | None = None  # the last frame before the latest reset
    _candidate: SequencePoint | None = None  # a frame that may be the first of another count
    _candidate_count: int = 0
    _confirmations: float = 0.0
    _missing: dict[int, None] = field(default_factory=dict)
    _last_source_time_s: float | None = None
    _first_recv_s: float = 0.0
    _moved_recv_s: float = 0.0
    _rate_anchor: tuple[float, float] = (0.0, 0.0)
    _reset_announced: bool = False

    def classify(self, sequence_number: int | None, time_s: float | None, recv_s: float) -> TrackedFrame:
        """Rule on one frame.

        Args:
            sequence_number: Its sequence number; None where it has none.
            time_s: Its source time; None where it has none: the last one stands, or, where none ever came, the
                time since the first arrival.
            recv_s: The monotonic clock at its arrival.

        Returns:
            What it is. `sim_s` and `epoch` are good to use where it is NEW or RESET.
        """
        mark = SequencePoint(sequence_number, self._unwrapped_time(time_s, recv_s), recv_s)
        last = self._last
        if last is None:
            self._first_recv_s, self._rate_anchor = recv_s, (recv_s, mark.time_s)
            return self._accept(mark, FrameStatus.NEW)
        standing = self._classify(mark, last)
        if standing in (FrameStatus.NEW, FrameStatus.RESET):
            return self._accept(mark, standing)
        return TrackedFrame(standing, last.time_s, self.epoch)

    def expect_reset(self) -> None:
        """The sender announced its columns again, as after a reset: going back needs no further proof."""
        self._reset_announced = self._last is not None

    def paused(self, recv_s: float) -> bool:
        """Whether frames arrive while the simulator's clock stands still."""
        return (
            self._last is not None
            and recv_s - self._moved_recv_s >= PAUSE_AFTER_S
            and self._last.recv_s > self._moved_recv_s
        )

    def _unwrapped_time(self, time_s: float | None, recv_s: float) -> float:
        """The frame's time, without wraps."""
        last = self._last
        if time_s is None:
            if self._last_source_time_s is not None and last is not None:
                return last.time_s
            return recv_s - self._first_recv_s if last is not None else 0.0
        self._last_source_time_s = time_s
        if self.wrap_s and last is not None:
            return time_s + round((last.time_s - time_s) / self.wrap_s) * self.wrap_s
        return time_s

    def _classify(self, point: SequencePoint, last: SequencePoint) -> FrameStatus:
        """What the frame is, beside the last one that was used."""
        ahead_s = point.time_s - last.time_s
        if ahead_s > RESET_STEP_S and self._from_last_epoch(point):
            self.counts.stale += 1
            return FrameStatus.STALE
        if point.number is None or last.number is None:
            return self._classify_by_time(point, last)
        step = self.number_step(last.number, point.number)
        if step == 0:
            return self._classify_repeated(point, last)
        if -REORDER_WINDOW <= step < 0:
            return self._classify_late(point, last)
        if step < 0 or step > MAX_NUMBER_GAP or self._leaps_forward(point, last):
            return self._confirm_candidate(point, last)
        self._count_gap(last.number, step)
        return FrameStatus.RESET if ahead_s < -RESET_STEP_S else FrameStatus.NEW

    def number_step(self, earlier: int, later: int) -> int:
        """How far one number is after another, across the wrap; negative: before it."""
        half = 1 << (self.bits - 1)
        return (later - earlier + half) % (2 * half) - half

    def _classify_by_time(self, point: SequencePoint, last: SequencePoint) -> FrameStatus:
        """The ruling where only time can tell."""
        ahead_s = point.time_s - last.time_s
        if ahead_s < -RESET_STEP_S:
            return FrameStatus.RESET if self._reset_announced else self._confirm_candidate(point, last)
        if ahead_s < 0:
            self.counts.reordered += 1
            return FrameStatus.LATE
        return self._confirm_candidate(point, last) if self._leaps_forward(point, last) else FrameStatus.NEW

    def _classify_repeated(self, point: SequencePoint, last: SequencePoint) -> FrameStatus:
        """The same number again: a duplicate, unless the clock went on and the sender's count is stuck."""
        if point.time_s == last.time_s:
            self.counts.duplicated += 1
            return FrameStatus.DUPLICATE
        return self._classify_by_time(point, last)

    def _classify_late(self, point: SequencePoint, last: SequencePoint) -> FrameStatus:
        """An older number: late if it was missed; else a straggler or duplicate, or a sender that began anew."""
        ahead_s = point.time_s - last.time_s
        if point.number in self._missing and ahead_s <= RESET_STEP_S:
            del self._missing[point.number]
            self.counts.lost -= 1
            self.counts.reordered += 1
            return FrameStatus.LATE
        if -RESET_STEP_S <= ahead_s <= 0:
            self.counts.duplicated += 1
            return FrameStatus.DUPLICATE
        return self._confirm_candidate(point, last, _CONFIRMATIONS_NEAR)

    def _count_gap(self, earlier: int, step: int) -> None:
        """Count what was left out, and remember its latest part, which may still come."""
        if step == 1:
            return
        self.counts.lost += step - 1
        top = 1 << self.bits
        for back in range(max(1, step - REORDER_WINDOW), step):
            self._missing[(earlier + back) % top] = None
        while len(self._missing) > REORDER_WINDOW:
            del self._missing[next(iter(self._missing))]

    def _leaps_forward(self, point: SequencePoint, last: SequencePoint) -> bool:
        """Whether time goes forward by more than a simulator can."""
        ahead_s = point.time_s - last.time_s
        return ahead_s > LEAP_FORWARD_S and ahead_s > MAX_TIME_RATIO * (point.recv_s - last.recv_s)

    def _from_last_epoch(self, point: SequencePoint) -> bool:
        """Whether a frame that is ahead is a straggler from before the latest reset."""
        old = self._end_of_last_epoch
        if old is None or point.recv_s - old.recv_s > STALE_WINDOW_S:
            return False
        if (
            old.number is not None
            and point.number is not None
            and self.number_step(old.number, point.number) > 0
        ):
            return False
        return old.time_s - 2 * STALE_WINDOW_S <= point.time_s <= old.time_s + RESET_STEP_S

    def _confirm_candidate(
        self, point: SequencePoint, last: SequencePoint, confirmations_needed: float = _CONFIRMATIONS
    ) -> FrameStatus:
        """A frame that fits nothing before it: believed when the next ones go on from it."""
        doubt = self._candidate
        goes_on = doubt is not None and self._continues(doubt, point)
        newer = doubt is not None and (point.time_s > doubt.time_s or point.number is not None)
        self._confirmations = self._confirmations + (1.0 if newer else 0.5) if goes_on else 0.0
        self._candidate_count += 1
        if self._confirmations < confirmations_needed:
            self._candidate = point
            return FrameStatus.UNCONFIRMED
        self._candidate_count = 0
        self._missing.clear()
        return FrameStatus.RESET if point.time_s < last.time_s - RESET_STEP_S else FrameStatus.NEW

    def _continues(self, candidate: SequencePoint, point: SequencePoint) -> bool:
        """Whether one doubtful frame is the next one of the same count as another."""
        numbered = candidate.number is not None and point.number is not None
        if numbered and not 0 < self.number_step(candidate.number or 0, point.number or 0) <= REORDER_WINDOW:
            return False
        limit_s = max(RESET_STEP_S, MAX_TIME_RATIO * (point.recv_s - candidate.recv_s))
        return 0 <= point.time_s - candidate.time_s <= limit_s

    def _accept(self, point: SequencePoint, status: FrameStatus) -> TrackedFrame:
        """Make this the last frame used."""
        last = self._last
        if status is FrameStatus.RESET:
            self._end_of_last_epoch = self._end_of_epoch(last, point) if last else None
            self.epoch += 1
            self.counts.resets += 1
            point = point._replace(
                time_s=self._last_source_time_s if self._last_source_time_s is not None else point.time_s
            )
            self._rate_anchor = (point.recv_s, point.time_s)
        elif last is not None and point.time_s < last.time_s:
            point = point._replace(time_s=last.time_s)
        if last is None or point.time_s != last.time_s:
            self._moved_recv_s = point.recv_s
        self.counts.stale += self._candidate_count
        self._candidate, self._candidate_count, self._confirmations, self._reset_announced = (
            None,
            0,
            0.0,
            False,
        )
        self._last = point
        self._estimate_rate(point)
        return TrackedFrame(status, point.time_s, self.epoch)

    def _end_of_epoch(self, last: SequencePoint, point: SequencePoint) -> SequencePoint:
        """The last place before a reset: up to its number and around its time, frames are stragglers."""
        number = last.number
        if (
            number is not None
            and point.number is not None
            and 0 < self.number_step(number, point.number) <= MAX_NUMBER_GAP
        ):
            number = (point.number - 1) % (1 << self.bits)
        return SequencePoint(number, last.time_s, point.recv_s)

    def _estimate_rate(self, point: SequencePoint) -> None:
        """Estimate the simulation's rate about once a second."""
        recv_s, time_s = self._rate_anchor
        if point.recv_s - recv_s >= PAUSE_AFTER_S:
            self.rate = (point.time_s - time_s) / (point.recv_s - recv_s)
            self._rate_anchor = (point.recv_s, point.time_s)
