"""Classifies frames by sequence number and time: new, duplicate, late, stale, or a reset of the simulator's clock.

    number   newer by 1 or more: new, the gap is lost   time   forward or equal: new (equal: a pause, or coarse digits)
             the same, same time: duplicate                    back a little: late
             older by a few: late, or duplicate                back by more than a second: a reset
             far away: the sender may have restarted           far ahead: a jump, or a damaged value

A late frame never overwrites newer state.  Time that falls while the number rises proves a reset at once.  Without that
proof (no number, or one that starts again) a second frame that continues from the first has to confirm the reset:

    (500, 100.0 s)  (501, 0.0 s)                                  NEW  RESET                    the number is the proof
    99.95 s  100.0 s  0.0 s  0.05 s                               NEW  NEW  UNCONFIRMED  RESET  the fourth confirms
    100.0 s  3.0 s  100.05 s                                      NEW  UNCONFIRMED  NEW         a single old frame
    (500, 100.0 s)  (502, 0.0 s)  (501, 100.05 s)  (503, 0.05 s)  NEW  RESET  STALE  NEW        no second reset

Times are seconds of the simulator's clock, arrivals seconds of the monotonic clock.

Takes: number, time and arrival of each frame.  Gives: the status of each frame, and counts.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

from rules.signals.model import is_gap

RESET_STEP_S = 1.0
"""A step of time back by more than this many seconds is a reset, a smaller one is late."""
LEAP_FORWARD_S = 60.0
"""A step of time forward by more than this many seconds has to be confirmed, if it also exceeds `MAX_TIME_RATIO`."""
MAX_TIME_RATIO = 1000.0
"""Largest credible ratio of a step of simulated time to the time between the arrivals."""
REORDER_WINDOW = 64
"""An older number within this distance is late; a more distant one means that the sender restarted."""
MAX_NUMBER_GAP = 100_000
"""A larger step of the numbers is not counted as a loss; the sender's count has changed."""
STALE_WINDOW_S = 5.0
"""Seconds after a reset in which stale frames from before it are expected."""
_CONFIRMATIONS = 1.0
_CONFIRMATIONS_NEAR = 3.0
"""Frames that must continue from an unconfirmed one; more of them where the old numbers may only be late."""
PAUSE_AFTER_S = 1.0
"""The simulation is paused when its clock does not advance for this many seconds while frames arrive."""


class FrameStatus(StrEnum):
    """Status of a frame in the sequence; only NEW and RESET frames are used."""

    NEW = "new"
    RESET = "reset"
    DUPLICATE = "duplicate"
    LATE = "late"
    STALE = "stale"
    UNCONFIRMED = "unconfirmed"  # may be a reset or a jump; the next frame decides


class TrackedFrame(NamedTuple):
    """Status of a frame, the simulator's clock without wraps, and the epoch.

    `missing_from_s` is the time of the first frame that is missing before it, or since losses follow each other closely; None
    where none is, or too little to hide something.  `missing` is how many are missing, None where that is not known.
    """

    status: FrameStatus
    sim_s: float
    epoch: int
    missing_from_s: float | None = None
    missing: int | None = None


class SequencePoint(NamedTuple):
    """Number of a frame (None where the sender does not count), its time, and its arrival."""

    number: int | None
    time_s: float
    recv_s: float


@dataclass(slots=True)
class SequenceCounts:
    """Counts of frames by status; a lost frame that arrives late is no longer counted as lost."""

    lost: int = 0
    duplicated: int = 0
    reordered: int = 0
    stale: int = 0
    resets: int = 0


LONG_STEP = 2.0
"""A step of the clock is longer than usual, and hides something, from this multiple of the usual one on.  Chosen by us, no
source."""
_STEPS_KEPT = 32
_STEPS_NEEDED = 8
_USUAL_SHARE = 0.9
"""Nine of ten of the latest steps are no longer than the usual one, so a few long ones do not make themselves usual."""


@dataclass(slots=True)
class LossPatch:
    """Losses that follow each other so closely that no more frames arrived between two than were lost.

    One frame in twenty that a network loses hides nothing at 10 Hz.  Three of every four do, though each hole is short:

        arrived    x . . . x . . . x . . . x     hole after hole, of 0.3 s each
        gap                        x . . . x     from 0.5 s lost in all on
    """

    from_s: float = 0.0
    lost_s: float = 0.0
    arrived: int = MAX_NUMBER_GAP

    def add(self, lost: int, from_s: float, to_s: float) -> float | None:
        """Add frames lost before one that arrived.

        Returns:
            The start of the loss, or of the patch where it is short; None while the patch is too short to be a gap.
        """
        if self.arrived > lost:
            self.from_s, self.lost_s = from_s, 0.0
        self.arrived = 1
        self.lost_s += to_s - from_s
        if is_gap(from_s, to_s):
            return from_s
        return self.from_s if is_gap(0.0, self.lost_s) else None


@dataclass(slots=True)
class SequenceTracker:
    """Classifies each frame of one sender.

    Attributes:
        bits: Width of the sender's numbers.
        wrap_s: Seconds after which the sender's clock starts again at 0 (2**32 ms is 4294967.296); 0 means never.
        counts: The counts by status.
        epoch: Number of resets.
        rate: Simulated seconds per second of the monotonic clock, over about the last second; None until it is known.
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
    _skipped: int = 0  # numbers skipped right before the frame that is classified
    _steps_s: deque[float] = field(default_factory=lambda: deque(maxlen=_STEPS_KEPT))
    _patch: LossPatch = field(default_factory=LossPatch)

    def classify(
        self, sequence_number: int | None, time_s: float | None, recv_s: float, dropped: int = 0
    ) -> TrackedFrame:
        """Classify one frame.

        Args:
            sequence_number: Its sequence number; None where it has none.
            time_s: Its source time in seconds. For None the last time is used, or the time since the first arrival
                where the sender has never sent a time.
            recv_s: The monotonic clock at its arrival, in seconds.
            dropped: Frames that our own queue dropped since the last one that was used.

        Returns:
            The status; `sim_s` and `epoch` are valid where it is NEW or RESET.
        """
        self._skipped = 0
        point = SequencePoint(sequence_number, self._unwrapped_time(time_s, recv_s), recv_s)
        last = self._last
        if last is None:
            self._first_recv_s, self._rate_anchor = recv_s, (recv_s, point.time_s)
            return self._accept(point, FrameStatus.NEW)
        status = self._classify(point, last)
        if status is FrameStatus.NEW:
            return self._with_missing(self._accept(point, status), last, max(self._skipped, dropped))
        if status is FrameStatus.RESET:
            return self._accept(point, status)
        return TrackedFrame(status, last.time_s, self.epoch)

    def _with_missing(self, tracked: TrackedFrame, last: SequencePoint, lost: int) -> TrackedFrame:
        """Add the time of the first of the missing frames, which were evenly spaced as far as anyone knows.

        number    500                        505
        time      100.0   ( 100.5 ... )     102.5     four are missing, from 100.5 s on

        Where the clock advanced by more than the sender's usual step explains, what lies beyond that step is missing too,
        also without numbers.
        """
        step_s = tracked.sim_s - last.time_s
        from_s: float | None = None
        if lost:
            from_s = self._patch.add(lost, last.time_s + step_s / (lost + 1), tracked.sim_s)
        else:
            self._patch.arrived += 1
        usual_s = self._usual_step_s() if is_gap(0.0, step_s) else None
        if usual_s is not None and step_s > LONG_STEP * usual_s * (lost + 1):
            from_s = min(last.time_s + usual_s, tracked.sim_s if from_s is None else from_s)
        if step_s > 0:
            self._steps_s.append(step_s / (lost + 1))
        return tracked if from_s is None else tracked._replace(missing_from_s=from_s, missing=lost or None)

    def _usual_step_s(self) -> float | None:
        """Give the longest usual step of the sender's clock; None while too few are known."""
        if len(self._steps_s) < _STEPS_NEEDED:
            return None
        return sorted(self._steps_s)[int(_USUAL_SHARE * (len(self._steps_s) - 1))]

    def expect_reset(self) -> None:
        """Accept the next step back as a reset; the sender repeated its heading, as it does after a reset."""
        self._reset_announced = self._last is not None

    def paused(self, recv_s: float) -> bool:
        """Tell whether frames arrive while the simulator's clock does not advance."""
        return (
            self._last is not None
            and recv_s - self._moved_recv_s >= PAUSE_AFTER_S
            and self._last.recv_s > self._moved_recv_s
        )

    def _unwrapped_time(self, time_s: float | None, recv_s: float) -> float:
        """Give the frame's time with the wraps of the sender's counter undone."""
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
        """Compare the frame with the last one that was used."""
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
        """Give the distance from one number to another across the wrap; negative where `later` is before."""
        half = 1 << (self.bits - 1)
        return (later - earlier + half) % (2 * half) - half

    def _classify_by_time(self, point: SequencePoint, last: SequencePoint) -> FrameStatus:
        """Classify by time alone, where numbers are missing or do not advance."""
        ahead_s = point.time_s - last.time_s
        if ahead_s < -RESET_STEP_S:
            return FrameStatus.RESET if self._reset_announced else self._confirm_candidate(point, last)
        if ahead_s < 0:
            self.counts.reordered += 1
            return FrameStatus.LATE
        return self._confirm_candidate(point, last) if self._leaps_forward(point, last) else FrameStatus.NEW

    def _classify_repeated(self, point: SequencePoint, last: SequencePoint) -> FrameStatus:
        """Classify a repeated number: a duplicate, or a count that is stuck while the clock advances."""
        if point.time_s == last.time_s:
            self.counts.duplicated += 1
            return FrameStatus.DUPLICATE
        return self._classify_by_time(point, last)

    def _classify_late(self, point: SequencePoint, last: SequencePoint) -> FrameStatus:
        """Classify an older number: late if it was missing, else a duplicate, or a sender that restarted."""
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
        """Count the skipped numbers, and remember the latest of them, which may still arrive."""
        if step == 1:
            return
        self._skipped = step - 1
        self.counts.lost += step - 1
        top = 1 << self.bits
        for back in range(max(1, step - REORDER_WINDOW), step):
            self._missing[(earlier + back) % top] = None
        while len(self._missing) > REORDER_WINDOW:
            del self._missing[next(iter(self._missing))]

    def _leaps_forward(self, point: SequencePoint, last: SequencePoint) -> bool:
        """Tell whether time advances by more than a simulator can."""
        ahead_s = point.time_s - last.time_s
        return ahead_s > LEAP_FORWARD_S and ahead_s > MAX_TIME_RATIO * (point.recv_s - last.recv_s)

    def _from_last_epoch(self, point: SequencePoint) -> bool:
        """Tell whether a frame that is ahead is a stale one from before the latest reset."""
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
        """Hold back a frame that does not continue the last one, until enough further frames continue from it."""
        candidate = self._candidate
        continues = candidate is not None and self._continues(candidate, point)
        newer = candidate is not None and (point.time_s > candidate.time_s or point.number is not None)
        # A repeated time without a number is weak evidence: coarse clocks repeat it, but so do two stale frames.
        self._confirmations = self._confirmations + (1.0 if newer else 0.5) if continues else 0.0
        self._candidate_count += 1
        if self._confirmations < confirmations_needed:
            self._candidate = point
            return FrameStatus.UNCONFIRMED
        self._candidate_count = 0
        self._missing.clear()
        return FrameStatus.RESET if point.time_s < last.time_s - RESET_STEP_S else FrameStatus.NEW

    def _continues(self, candidate: SequencePoint, point: SequencePoint) -> bool:
        """Tell whether a frame continues the count and the time of an unconfirmed one."""
        numbered = candidate.number is not None and point.number is not None
        if numbered and not 0 < self.number_step(candidate.number or 0, point.number or 0) <= REORDER_WINDOW:
            return False
        limit_s = max(RESET_STEP_S, MAX_TIME_RATIO * (point.recv_s - candidate.recv_s))
        return 0 <= point.time_s - candidate.time_s <= limit_s

    def _accept(self, point: SequencePoint, status: FrameStatus) -> TrackedFrame:
        """Use this frame as the last one."""
        last = self._last
        if status is FrameStatus.RESET:
            self._end_of_last_epoch = self._end_of_epoch(last, point) if last else None
            self.epoch += 1
            self.counts.resets += 1
            point = point._replace(
                time_s=self._last_source_time_s if self._last_source_time_s is not None else point.time_s
            )
            self._rate_anchor = (point.recv_s, point.time_s)
            self._patch = LossPatch()
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
        """Give the end of the old epoch; frames up to its number and around its time are stale."""
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
