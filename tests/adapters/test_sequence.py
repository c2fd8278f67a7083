"""Tests of the sequence tracker: new, duplicate, late and stale frames, losses, resets, pauses.

Takes: numbers, times and arrivals.  Gives: tests of status and counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.sequence import MAX_NUMBER_GAP, FrameStatus, SequenceTracker

NEW, RESET, DUPLICATE, LATE = FrameStatus.NEW, FrameStatus.RESET, FrameStatus.DUPLICATE, FrameStatus.LATE
STALE, UNCONFIRMED = FrameStatus.STALE, FrameStatus.UNCONFIRMED


def statuses(
    tracker: SequenceTracker, frames: Sequence[tuple[int | None, float | None]], step_s: float = 0.05
) -> list[FrameStatus]:
    """Classify frames that arrive at a steady rate."""
    return [
        tracker.classify(number, time_s, at * step_s).status for at, (number, time_s) in enumerate(frames)
    ]


def numbered(*numbers: int) -> list[tuple[int | None, float | None]]:
    """Make frames whose time follows their number at 20 Hz."""
    return [(number, number * 0.05) for number in numbers]


def timed(*times_s: float) -> list[tuple[int | None, float | None]]:
    """Make frames without number."""
    return [(None, time_s) for time_s in times_s]


def test_reordering_is_not_loss() -> None:
    """1 3 2 4 has one late frame and no lost one, and the late frame is not used."""
    tracker = SequenceTracker()
    assert statuses(tracker, numbered(1, 3, 2, 4)) == [NEW, NEW, LATE, NEW]
    assert (tracker.counts.reordered, tracker.counts.lost, tracker.counts.duplicated) == (1, 0, 0)


def test_gaps_and_duplicates_are_counted() -> None:
    """Skipped numbers are lost and repeated numbers are duplicates, also when they are repeated later."""
    tracker = SequenceTracker()
    assert statuses(tracker, numbered(1, 2, 2, 5, 1, 6)) == [NEW, NEW, DUPLICATE, NEW, DUPLICATE, NEW]
    assert (tracker.counts.lost, tracker.counts.duplicated, tracker.counts.reordered) == (2, 2, 0)


@pytest.mark.parametrize("bits", [8, 16, 32])
def test_numbers_wrap(bits: int) -> None:
    """0 follows the last number without a loss."""
    tracker, top = SequenceTracker(bits=bits), 2**bits
    frames: list[tuple[int | None, float | None]] = [
        (top - 2, 1.0),
        (top - 1, 1.05),
        (0, 1.1),
        (2, 1.2),
        (1, 1.15),
    ]
    assert statuses(tracker, frames) == [NEW, NEW, NEW, NEW, LATE]
    assert tracker.counts.lost == 0


def test_a_newer_number_proves_a_reset_at_once() -> None:
    """Time that falls while the number rises is one reset, and the epoch increases."""
    tracker = SequenceTracker()
    assert statuses(tracker, [(500, 100.0), (501, 0.0), (502, 0.05)]) == [NEW, RESET, NEW]
    assert (tracker.epoch, tracker.counts.resets) == (1, 1)


def test_a_stale_frame_causes_no_second_reset() -> None:
    """A frame from before the reset that arrives after it is not used and is not another reset."""
    tracker = SequenceTracker()
    frames: list[tuple[int | None, float | None]] = [(500, 100.0), (502, 0.0), (501, 100.05), (503, 0.05)]
    assert statuses(tracker, frames) == [NEW, RESET, STALE, NEW]
    assert tracker.epoch == 1
    assert (tracker.counts.resets, tracker.counts.stale) == (1, 1)


def test_without_numbers_a_second_frame_confirms_the_reset() -> None:
    """100 s, then 0 s is one reset as soon as the next frame continues from 0 s."""
    tracker = SequenceTracker()
    assert statuses(tracker, timed(99.95, 100.0, 0.0, 0.05, 0.1)) == [NEW, NEW, UNCONFIRMED, RESET, NEW]
    assert (tracker.epoch, tracker.counts.resets, tracker.counts.stale) == (1, 1, 0)


def test_without_numbers_one_stale_frame_is_no_reset() -> None:
    """A single old frame between two good ones only increases a counter."""
    tracker = SequenceTracker()
    assert statuses(tracker, timed(100.0, 3.0, 100.05, 3.05, 100.1)) == [
        NEW,
        UNCONFIRMED,
        NEW,
        UNCONFIRMED,
        NEW,
    ]
    assert (tracker.epoch, tracker.counts.stale) == (0, 2)


@pytest.mark.parametrize("before_s", [5.0, 30.0, 100.0])
def test_stale_frames_without_numbers_after_a_reset(before_s: float) -> None:
    """Frames from before a reset that arrive after it are stale and cause no further reset."""
    tracker = SequenceTracker()
    frames = timed(
        before_s, before_s + 0.05, 0.0, 0.05, before_s + 0.1, 0.1, before_s + 0.15, before_s + 0.2, 0.15
    )
    assert statuses(tracker, frames)[3:] == [RESET, STALE, NEW, STALE, STALE, NEW]
    assert tracker.counts.resets == 1


def test_a_heading_confirms_a_reset() -> None:
    """A step back after a repeated heading needs no confirmation."""
    tracker = SequenceTracker()
    statuses(tracker, timed(100.0))
    tracker.expect_reset()
    assert tracker.classify(None, 0.0, 1.0).status is RESET


def test_a_restarted_sender_is_accepted_at_its_second_frame() -> None:
    """Number and time from the start again are one reset, then new frames."""
    tracker = SequenceTracker()
    frames = [*numbered(5000, 5001), *numbered(0, 1, 2)]
    assert statuses(tracker, frames) == [NEW, NEW, UNCONFIRMED, RESET, NEW]
    assert tracker.epoch == 1


def test_a_restarted_sender_of_a_running_simulator_causes_no_reset() -> None:
    """Numbers that start again while time advances keep the epoch."""
    tracker = SequenceTracker()
    frames: list[tuple[int | None, float | None]] = [(5000, 10.0), (0, 11.0), (1, 11.05), (2, 11.1)]
    assert statuses(tracker, frames) == [NEW, UNCONFIRMED, NEW, NEW]
    assert tracker.epoch == 0


def test_a_milliseconds_counter_is_unwrapped() -> None:
    """The time of a 32-bit counter of milliseconds continues to rise after the wrap, in one epoch."""
    tracker = SequenceTracker(wrap_s=2**32 / 1000)
    times_s = [
        tracker.classify(None, raw / 1000, at * 0.1).sim_s
        for at, raw in enumerate((4294967290, 4294967295, 4))
    ]
    assert times_s == pytest.approx([4294967.290, 4294967.295, 4294967.300])
    assert tracker.epoch == 0


def test_a_reset_of_a_wrapping_clock_is_still_a_reset() -> None:
    """A step to 0 from the middle of the counter's range is a reset and no wrap."""
    tracker = SequenceTracker(wrap_s=2**32 / 1000)
    assert statuses(tracker, timed(100.0, 0.0, 0.05)) == [NEW, UNCONFIRMED, RESET]


def test_one_damaged_time_far_ahead_is_not_used() -> None:
    """A single time far ahead neither moves the clock nor makes the next good frame a reset."""
    tracker = SequenceTracker()
    assert statuses(tracker, timed(1.0, 9.0e8, 1.1, 1.15)) == [NEW, UNCONFIRMED, NEW, NEW]
    assert tracker.epoch == 0


def test_a_real_leap_forward_is_accepted_at_its_second_frame() -> None:
    """A reposition to a later time costs one frame and is no reset."""
    tracker = SequenceTracker()
    assert statuses(tracker, timed(1.0, 5000.0, 5000.05)) == [NEW, UNCONFIRMED, NEW]
    assert tracker.epoch == 0


def test_a_damaged_number_does_not_count_as_loss() -> None:
    """One damaged number does not count as a hundred thousand lost frames."""
    tracker = SequenceTracker()
    assert statuses(tracker, numbered(1, 2)) == [NEW, NEW]
    assert tracker.classify(2 + MAX_NUMBER_GAP + 1, 0.15, 0.1).status is UNCONFIRMED
    assert tracker.classify(3, 0.15, 0.15).status is NEW
    assert tracker.counts.lost == 0


def test_equal_times_are_new_without_numbers() -> None:
    """A coarse clock sends the same time twice, and both frames are new."""
    assert statuses(SequenceTracker(), timed(10000.01, 10000.01, 10000.02)) == [NEW, NEW, NEW]


def test_a_number_that_never_moves_does_not_stop_reception() -> None:
    """A sender whose number is always 7 is classified by its clock."""
    assert statuses(SequenceTracker(), [(7, 0.0), (7, 0.05), (7, 0.1), (7, 0.1)]) == [
        NEW,
        NEW,
        NEW,
        DUPLICATE,
    ]


def test_small_steps_back_do_not_move_the_clock_back() -> None:
    """A newer frame whose time jitters back is used, at the latest time."""
    tracker = SequenceTracker()
    tracker.classify(1, 10.0, 0.0)
    assert tracker.classify(2, 9.9, 0.05) == (NEW, 10.0, 0, None, None)


def test_a_pause_and_the_rate_are_detected() -> None:
    """Equal times for a second are a pause; the rate is simulated seconds per real second."""
    tracker = SequenceTracker()
    for at in range(41):
        tracker.classify(at, at * 0.1, at * 0.05)
    assert tracker.rate == pytest.approx(2.0)
    assert not tracker.paused(2.0)
    for at in range(41, 66):
        tracker.classify(at, 4.0, at * 0.05)
    assert tracker.paused(3.25)
    tracker.classify(66, 4.1, 3.3)
    assert not tracker.paused(3.3)


def test_without_any_clock_arrival_is_the_time() -> None:
    """A sender without time gets the seconds since its first frame."""
    tracker = SequenceTracker()
    assert [tracker.classify(None, None, recv_s).sim_s for recv_s in (50.0, 50.5, 51.0)] == [0.0, 0.5, 1.0]


def test_a_frame_that_lacks_its_time_keeps_the_last_one() -> None:
    """A frame without time among others keeps the last time."""
    tracker = SequenceTracker()
    assert [tracker.classify(n, t, n * 0.1).sim_s for n, t in ((1, 5.0), (2, None), (3, 5.2))] == [
        5.0,
        5.0,
        5.2,
    ]


@pytest.mark.parametrize("time_s", [0.0, 60.0])
def test_a_sender_that_restarts_soon_after_its_start_is_accepted(time_s: float) -> None:
    """Numbers that start again within the reorder window are a new count after a few frames."""
    tracker = SequenceTracker()
    frames: list[tuple[int | None, float | None]] = [(n, 20.0 + n) for n in range(30)]
    frames += [(n, time_s + n) for n in range(6)]
    assert statuses(tracker, frames, 1.0)[30:] == [UNCONFIRMED] * 3 + [NEW if time_s else RESET] + [NEW] * 2


@given(
    st.lists(st.tuples(st.none() | st.integers(0, 2**32 - 1), st.none() | st.floats(-1e9, 1e9)), max_size=30),
    st.integers(0, 2**32 - 1) | st.none() | st.integers(0, 200),
    st.floats(0, 1e6) | st.floats(0, 20),
    st.sampled_from([1.0, 0.05]),
)
def test_a_steady_sender_is_accepted_after_any_frames(
    before: list[tuple[int | None, float | None]], number: int | None, time_s: float, step_s: float
) -> None:
    """After any frames, a steady sender is used again within 210 frames."""
    tracker = SequenceTracker()
    statuses(tracker, before, step_s)
    steady: list[tuple[int | None, float | None]] = [
        (None if number is None else (number + at) % 2**32, time_s + at * step_s) for at in range(220)
    ]
    at_s = len(before) * step_s
    used = [
        tracker.classify(n, t, at_s + at * step_s).status in (NEW, RESET) for at, (n, t) in enumerate(steady)
    ]
    assert all(used[210:])


@given(st.lists(st.integers(0, 60), max_size=40))
def test_arrival_in_any_order_counts_each_number_once(arrivals: list[int]) -> None:
    """For any losses, duplicates and late frames, used, lost and late numbers add up to those from first to last."""
    tracker = SequenceTracker()
    used = [number for number in arrivals if tracker.classify(number, 5.0 + number * 0.01, 0.0).status is NEW]
    assert used == sorted(set(used))
    if used:
        assert len(used) + tracker.counts.lost + tracker.counts.reordered == used[-1] - used[0] + 1
    assert len(arrivals) == len(used) + tracker.counts.reordered + tracker.counts.duplicated


@given(
    st.lists(st.tuples(st.none() | st.integers(0, 2**32 - 1), st.none() | st.floats(-1e9, 1e9)), max_size=60)
)
def test_time_within_an_epoch_never_falls(frames: list[tuple[int | None, float | None]]) -> None:
    """For any frames, the clock of the used frames falls only where the epoch rises; missing data begin in between."""
    tracker, last = SequenceTracker(), (-1, 0.0)
    for at, (number, time_s) in enumerate(frames):
        status, sim_s, epoch, missing_from_s, missing = tracker.classify(number, time_s, at * 0.05)
        if status in (NEW, RESET):
            assert (epoch, sim_s) >= last
            assert missing_from_s is None or missing_from_s <= sim_s
            assert missing is None or (missing > 0 and missing_from_s is not None)
            last = (epoch, sim_s)


def missing(
    tracker: SequenceTracker, frames: Sequence[tuple[int | None, float | None]]
) -> list[float | None]:
    """Classify frames, and give the start of what is missing before each."""
    return [tracker.classify(number, time_s, 0.0).missing_from_s for number, time_s in frames]


def test_skipped_numbers_are_missing_data() -> None:
    """The first missing frame was one interval after the last that arrived; late ones and repetitions hide nothing."""
    tracker = SequenceTracker()
    found = missing(tracker, [(1, 10.0), (2, 10.5), (7, 13.0), (8, 13.5), (6, 12.5), (8, 13.5), (9, 14.0)])
    assert found == [None, None, pytest.approx(11.0), None, None, None, None]


@pytest.mark.parametrize("rate_hz", [1, 2, 4, 10, 20])
@pytest.mark.parametrize("lost", [*range(12)])
def test_lost_frames_are_missing_data_by_their_time(lost: int, rate_hz: int) -> None:
    """Half a second that is lost hides something, at any rate; less does not."""
    tracker, step_s = SequenceTracker(), 1 / rate_hz
    tracker.classify(1, 10.0, 0.0)
    found = tracker.classify(2 + lost, 10.0 + step_s * (lost + 1), 0.0)
    counts = lost * step_s >= 0.5 - 1e-9
    assert found.missing_from_s == (pytest.approx(10.0 + step_s) if counts else None)
    assert found.missing == (lost if counts else None)
    assert tracker.counts.lost == lost


@pytest.mark.parametrize(
    ("pattern", "gaps"),
    [("x...", True), ("x.", True), ("xx...", True), ("xx.", False), ("x" * 19 + ".", False)],
)
def test_short_losses_that_follow_each_other_are_missing_data(pattern: str, *, gaps: bool) -> None:
    """Where at least half of the frames are lost for a while their time adds up, though each loss is short."""
    tracker, found = SequenceTracker(), list[float | None]()
    for number, mark in enumerate(pattern * 40):
        if mark == "x":
            found.append(tracker.classify(number, number * 0.1, number * 0.1).missing_from_s)
    assert any(start is not None for start in found) == gaps


@pytest.mark.parametrize("numbered", [False, True])
@pytest.mark.parametrize(
    ("step_s", "jump_s", "gap"),
    [(0.1, 5.0, True), (0.1, 0.4, False), (1.0, 1.9, False), (1.0, 2.5, True), (0.5, 5.0, True)],
)
def test_a_clock_that_is_far_ahead_hides_something(
    step_s: float, jump_s: float, *, gap: bool, numbered: bool
) -> None:
    """Without skipped numbers too, a step of the clock that the usual one does not explain is missing data."""
    tracker = SequenceTracker()
    for count in range(20):
        assert (
            tracker.classify(count if numbered else None, count * step_s, count * 0.01).missing_from_s is None
        )
    last_s = 19 * step_s
    found = tracker.classify(20 if numbered else None, last_s + jump_s, 0.3).missing_from_s
    assert found == (pytest.approx(last_s + step_s) if gap else None)


def test_a_sender_may_change_its_step() -> None:
    """After a few long steps they are usual; of a sender whose steps differ the long ones are."""
    tracker, at_s, found = SequenceTracker(), 0.0, list[bool]()
    for step_s in [0.1] * 40 + [1.6] * 20:
        at_s += step_s
        found.append(tracker.classify(None, at_s, at_s).missing_from_s is not None)
    assert found.count(True) <= 5
    assert not any(found[:41][:40])
    assert not any(found[-10:])
    irregular = SequenceTracker()
    times = list(accumulate([0.1, 1.2, 0.3] * 30))
    assert missing(irregular, [(None, time_s) for time_s in times]) == [None] * len(times)


def test_a_reset_has_no_missing_data() -> None:
    """After a jump back everything is judged anew."""
    assert missing(SequenceTracker(), [(1, 10.0), (5, 0.0), (6, 0.5)]) == [None, None, None]


def test_dropped_frames_are_missing_data_without_numbers_too() -> None:
    """What our own queue dropped is known without the sender's numbers; of both counts the larger is used."""
    tracker = SequenceTracker()
    tracker.classify(None, 10.0, 0.0)
    assert tracker.classify(None, 12.0, 0.0, dropped=3).missing_from_s == pytest.approx(10.5)
    tracker = SequenceTracker()
    tracker.classify(1, 10.0, 0.0)
    assert tracker.classify(6, 12.5, 0.0, dropped=1).missing_from_s == pytest.approx(10.5)


def test_a_damaged_number_is_no_missing_data() -> None:
    """A number that is not credible says nothing about missing frames."""
    tracker = SequenceTracker()
    frames = [(1, 0.05), (2, 0.1), (2 + MAX_NUMBER_GAP + 1, 0.15), (3, 0.15)]
    assert missing(tracker, frames) == [None, None, None, None]
