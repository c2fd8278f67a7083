"""What is new, again, late, lost, and when the simulator's clock jumped back."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adapters.sequence import MAX_NUMBER_GAP, FrameStatus, SequenceTracker

NEW, RESET, DUPLICATE, LATE = FrameStatus.NEW, FrameStatus.RESET, FrameStatus.DUPLICATE, FrameStatus.LATE
STRAGGLER, UNSURE = FrameStatus.STALE, FrameStatus.UNCONFIRMED


def standings(
    order: SequenceTracker, frames: Sequence[tuple[int | None, float | None]], step_s: float = 0.05
) -> list[FrameStatus]:
    """The rulings on frames that arrive at a steady rate."""
    return [order.classify(number, time_s, at * step_s).status for at, (number, time_s) in enumerate(frames)]


def numbered(*numbers: int) -> list[tuple[int | None, float | None]]:
    """Frames whose time follows their number at 20 Hz."""
    return [(number, number * 0.05) for number in numbers]


def timed(*times_s: float) -> list[tuple[int | None, float | None]]:
    """Frames without number."""
    return [(None, time_s) for time_s in times_s]


def test_reordering_is_not_loss() -> None:
    """1 3 2 4 is one late frame and none lost, and the late one is not used."""
    order = SequenceTracker()
    assert standings(order, numbered(1, 3, 2, 4)) == [NEW, NEW, LATE, NEW]
    assert (order.counts.reordered, order.counts.lost, order.counts.duplicated) == (1, 0, 0)


def test_gaps_and_duplicates_are_counted() -> None:
    """What never came is lost, what came again is a duplicate, also when it comes again later."""
    order = SequenceTracker()
    assert standings(order, numbered(1, 2, 2, 5, 1, 6)) == [NEW, NEW, DUPLICATE, NEW, DUPLICATE, NEW]
    assert (order.counts.lost, order.counts.duplicated, order.counts.reordered) == (2, 2, 0)


@pytest.mark.parametrize("bits", [8, 16, 32])
def test_numbers_wrap(bits: int) -> None:
    """After the last number comes 0, and nothing is lost between them."""
    order, top = SequenceTracker(bits=bits), 2**bits
    frames: list[tuple[int | None, float | None]] = [
        (top - 2, 1.0),
        (top - 1, 1.05),
        (0, 1.1),
        (2, 1.2),
        (1, 1.15),
    ]
    assert standings(order, frames) == [NEW, NEW, NEW, NEW, LATE]
    assert order.counts.lost == 0


def test_a_newer_number_proves_a_reset_at_once() -> None:
    """Time that falls while the number rises is a reset, once, and the epoch goes up."""
    order = SequenceTracker()
    assert standings(order, [(500, 100.0), (501, 0.0), (502, 0.05)]) == [NEW, RESET, NEW]
    assert (order.epoch, order.counts.resets) == (1, 1)


def test_a_straggler_from_before_a_reset_makes_no_second_reset() -> None:
    """An old frame that arrives after the reset is neither used nor taken for another jump."""
    order = SequenceTracker()
    frames: list[tuple[int | None, float | None]] = [(500, 100.0), (502, 0.0), (501, 100.05), (503, 0.05)]
    assert standings(order, frames) == [NEW, RESET, STRAGGLER, NEW]
    assert order.epoch == 1
    assert (order.counts.resets, order.counts.stale) == (1, 1)


def test_without_numbers_a_second_frame_confirms_the_reset() -> None:
    """100 s, then 0 s: believed when the next frame goes on from it, and exactly once."""
    order = SequenceTracker()
    assert standings(order, timed(99.95, 100.0, 0.0, 0.05, 0.1)) == [NEW, NEW, UNSURE, RESET, NEW]
    assert (order.epoch, order.counts.resets, order.counts.stale) == (1, 1, 0)


def test_without_numbers_one_straggler_is_not_a_reset() -> None:
    """A single old frame between two good ones changes nothing but a counter."""
    order = SequenceTracker()
    assert standings(order, timed(100.0, 3.0, 100.05, 3.05, 100.1)) == [NEW, UNSURE, NEW, UNSURE, NEW]
    assert (order.epoch, order.counts.stale) == (0, 2)


@pytest.mark.parametrize("before_s", [5.0, 30.0, 100.0])
def test_stragglers_without_numbers_after_a_reset(before_s: float) -> None:
    """Frames of the time before a reset, arriving after it, are stragglers and make no further reset."""
    order = SequenceTracker()
    frames = timed(
        before_s, before_s + 0.05, 0.0, 0.05, before_s + 0.1, 0.1, before_s + 0.15, before_s + 0.2, 0.15
    )
    assert standings(order, frames)[3:] == [RESET, STRAGGLER, NEW, STRAGGLER, STRAGGLER, NEW]
    assert order.counts.resets == 1


def test_announced_columns_make_a_reset_certain() -> None:
    """A sender that names its columns again and goes back needs no confirmation."""
    order = SequenceTracker()
    standings(order, timed(100.0))
    order.expect_reset()
    assert order.classify(None, 0.0, 1.0).status is RESET


def test_a_sender_that_begins_anew_is_believed_at_its_second_frame() -> None:
    """Number and time from the start again: a restarted sender, one reset, then all as before."""
    order = SequenceTracker()
    frames = [*numbered(5000, 5001), *numbered(0, 1, 2)]
    assert standings(order, frames) == [NEW, NEW, UNSURE, RESET, NEW]
    assert order.epoch == 1


def test_a_restarted_sender_whose_simulator_went_on_makes_no_reset() -> None:
    """Numbers that begin again while time goes on keep the epoch."""
    order = SequenceTracker()
    frames: list[tuple[int | None, float | None]] = [(5000, 10.0), (0, 11.0), (1, 11.05), (2, 11.1)]
    assert standings(order, frames) == [NEW, UNSURE, NEW, NEW]
    assert order.epoch == 0


def test_a_milliseconds_counter_is_unwrapped() -> None:
    """A 32-bit counter of milliseconds that begins at 0 again goes on upwards, as one epoch."""
    order = SequenceTracker(wrap_s=2**32 / 1000)
    times_s = [
        order.classify(None, raw / 1000, at * 0.1).sim_s for at, raw in enumerate((4294967290, 4294967295, 4))
    ]
    assert times_s == pytest.approx([4294967.290, 4294967.295, 4294967.300])
    assert order.epoch == 0


def test_a_reset_of_a_wrapping_clock_is_still_a_reset() -> None:
    """Back to 0 from the middle of the counter's range is no wrap."""
    order = SequenceTracker(wrap_s=2**32 / 1000)
    assert standings(order, timed(100.0, 0.0, 0.05)) == [NEW, UNSURE, RESET]


def test_one_damaged_time_far_ahead_is_not_believed() -> None:
    """A single absurd time neither moves the clock nor makes the next good frame a reset."""
    order = SequenceTracker()
    assert standings(order, timed(1.0, 9.0e8, 1.1, 1.15)) == [NEW, UNSURE, NEW, NEW]
    assert order.epoch == 0


def test_a_real_leap_forward_is_believed_at_its_second_frame() -> None:
    """A reposition to a later time is one frame late and no reset."""
    order = SequenceTracker()
    assert standings(order, timed(1.0, 5000.0, 5000.05)) == [NEW, UNSURE, NEW]
    assert order.epoch == 0


def test_an_absurd_number_is_another_count() -> None:
    """One damaged number is not counted as a hundred thousand lost frames."""
    order = SequenceTracker()
    assert standings(order, numbered(1, 2)) == [NEW, NEW]
    assert order.classify(2 + MAX_NUMBER_GAP + 1, 0.15, 0.1).status is UNSURE
    assert order.classify(3, 0.15, 0.15).status is NEW
    assert order.counts.lost == 0


def test_equal_times_are_new_without_numbers() -> None:
    """Coarse figures print the same time twice: both frames count."""
    assert standings(SequenceTracker(), timed(10000.01, 10000.01, 10000.02)) == [NEW, NEW, NEW]


def test_a_number_that_never_moves_does_not_stop_reception() -> None:
    """A sender that always says 7 is judged by its clock."""
    assert standings(SequenceTracker(), [(7, 0.0), (7, 0.05), (7, 0.1), (7, 0.1)]) == [
        NEW,
        NEW,
        NEW,
        DUPLICATE,
    ]


def test_small_steps_back_never_turn_the_clock_back() -> None:
    """A newer frame whose time jitters back is used, at the time reached."""
    order = SequenceTracker()
    order.classify(1, 10.0, 0.0)
    assert order.classify(2, 9.9, 0.05) == (NEW, 10.0, 0)


def test_a_pause_and_the_rate_are_seen() -> None:
    """Frames whose time stands still for a second are a pause; the rate is simulated over wall seconds."""
    order = SequenceTracker()
    for at in range(41):
        order.classify(at, at * 0.1, at * 0.05)
    assert order.rate == pytest.approx(2.0)
    assert not order.paused(2.0)
    for at in range(41, 66):
        order.classify(at, 4.0, at * 0.05)
    assert order.paused(3.25)
    order.classify(66, 4.1, 3.3)
    assert not order.paused(3.3)


def test_without_any_clock_arrival_is_the_time() -> None:
    """A sender without time gets seconds since its first frame."""
    order = SequenceTracker()
    assert [order.classify(None, None, recv_s).sim_s for recv_s in (50.0, 50.5, 51.0)] == [0.0, 0.5, 1.0]


def test_a_frame_that_lacks_its_time_keeps_the_last_one() -> None:
    """A missing time among good ones does not move the clock."""
    order = SequenceTracker()
    assert [order.classify(n, t, n * 0.1).sim_s for n, t in ((1, 5.0), (2, None), (3, 5.2))] == [
        5.0,
        5.0,
        5.2,
    ]


@pytest.mark.parametrize("time_s", [0.0, 60.0])
def test_a_sender_that_begins_anew_soon_after_its_start_is_believed(time_s: float) -> None:
    """Numbers that begin again within the window of lateness are taken for a new count after a few frames."""
    order = SequenceTracker()
    frames: list[tuple[int | None, float | None]] = [(n, 20.0 + n) for n in range(30)]
    frames += [(n, time_s + n) for n in range(6)]
    assert standings(order, frames, 1.0)[30:] == [UNSURE] * 3 + [NEW if time_s else RESET] + [NEW] * 2


@given(
    st.lists(st.tuples(st.none() | st.integers(0, 2**32 - 1), st.none() | st.floats(-1e9, 1e9)), max_size=30),
    st.integers(0, 2**32 - 1) | st.none() | st.integers(0, 200),
    st.floats(0, 1e6) | st.floats(0, 20),
    st.sampled_from([1.0, 0.05]),
)
def test_a_steady_sender_is_always_heard_in_the_end(
    before: list[tuple[int | None, float | None]], number: int | None, time_s: float, step_s: float
) -> None:
    """Whatever came before, a sender that goes on steadily is used again within ten seconds or seventy frames."""
    order = SequenceTracker()
    standings(order, before, step_s)
    steady: list[tuple[int | None, float | None]] = [
        (None if number is None else (number + at) % 2**32, time_s + at * step_s) for at in range(220)
    ]
    at_s = len(before) * step_s
    heard = [
        order.classify(n, t, at_s + at * step_s).status in (NEW, RESET) for at, (n, t) in enumerate(steady)
    ]
    assert all(heard[210:])


@given(st.lists(st.integers(0, 60), max_size=40))
def test_arrival_in_any_order_counts_each_number_once(arrivals: list[int]) -> None:
    """Whatever is lost, doubled or late: used, lost and late numbers add up to those between first and last."""
    order = SequenceTracker()
    used = [number for number in arrivals if order.classify(number, 5.0 + number * 0.01, 0.0).status is NEW]
    assert used == sorted(set(used))
    if used:
        assert len(used) + order.counts.lost + order.counts.reordered == used[-1] - used[0] + 1
    assert len(arrivals) == len(used) + order.counts.reordered + order.counts.duplicated


@given(
    st.lists(st.tuples(st.none() | st.integers(0, 2**32 - 1), st.none() | st.floats(-1e9, 1e9)), max_size=60)
)
def test_time_within_an_epoch_never_falls(frames: list[tuple[int | None, float | None]]) -> None:
    """Whatever arrives, the clock of the frames that are used falls only where the epoch rises."""
    order, last = SequenceTracker(), (-1, 0.0)
    for at, (number, time_s) in enumerate(frames):
        standing, sim_s, epoch = order.classify(number, time_s, at * 0.05)
        if standing in (NEW, RESET):
            assert (epoch, sim_s) >= last
            last = (epoch, sim_s)
