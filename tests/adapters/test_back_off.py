"""Growing delays between attempts."""

from __future__ import annotations

from adapters.back_off import MAX_WAIT_S, BackOff


def test_delays_double_up_to_the_longest_and_a_success_starts_again() -> None:
    """The delays are 1, 2, 4 .. 30 s; after a success the first one follows again."""
    back_off = BackOff()
    assert [back_off.next_s() for _ in range(7)] == [1, 2, 4, 8, 16, 30, 30]
    back_off.reset()
    assert [back_off.next_s() for _ in range(2)] == [1, 2]


def test_a_loop_that_counts_its_attempts_itself() -> None:
    """`after` depends only on the number of attempts, even where the doubled delay is no number any more."""
    back_off = BackOff(0.5, 8.0)
    assert [back_off.after(attempts) for attempts in (1, 4, 2, 5000)] == [0.5, 4.0, 1.0, 8.0]


def test_jitter_is_added_within_its_limit() -> None:
    """With jitter the first delay lies between the first one and the jitter above it, and the longest is kept."""
    delays = [BackOff(1.0, jitter_s=0.25).next_s() for _ in range(50)]
    assert 1.0 <= min(delays) < max(delays) <= 1.25
    assert BackOff(1.0, jitter_s=0.25).after(9) == MAX_WAIT_S
