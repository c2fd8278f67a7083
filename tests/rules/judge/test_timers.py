"""Timers become due in order, once, at the time that was set last."""

from __future__ import annotations

import math

from rules.judge.timers import Timers

A, B, C = ("hold", "", "a"), ("hold", "", "b"), ("hold", "", "c")


def test_earliest_first_and_equal_times_in_the_order_set() -> None:
    """Keys come out by time, and at the same time in the order in which they were set."""
    timers = Timers()
    timers.set(C, 2.0)
    timers.set(B, 1.0)
    timers.set(A, 1.0)
    assert list(timers.pop_due(2.0)) == [B, A, C]
    assert list(timers.pop_due(9.0)) == []


def test_setting_a_key_again_replaces_its_time() -> None:
    """A key that is set again is due at the new time only."""
    timers = Timers()
    timers.set(A, 1.0)
    timers.set(A, 5.0)
    assert list(timers.pop_due(4.9)) == []
    assert list(timers.pop_due(5.0)) == [A]


def test_dropping() -> None:
    """A cancelled key does not become due, and cancelling an unknown key is no error."""
    timers = Timers()
    timers.set(A, 1.0)
    timers.cancel(A)
    timers.cancel(B)
    assert not timers.is_set(A)
    assert list(timers.pop_due(9.0)) == []


def test_a_timer_set_during_a_run_is_due_in_the_same_run() -> None:
    """A timer that is set for now while timers run is due in the same run."""
    timers = Timers()
    timers.set(A, 1.0)
    seen = []
    for key in timers.pop_due(1.0):
        seen.append(key)
        if key == A:
            timers.set(B, 1.0)
    assert seen == [A, B]


def test_a_key_that_sets_itself_again_is_due_once_in_a_step() -> None:
    """A timer that is set again for now, each time that it is due, does not keep the step: it is due in the next one."""
    timers = Timers()
    timers.set(A, 1.0)
    seen = []
    for key in timers.pop_due(1.0):
        seen.append(key)
        timers.set(A, 1.0)
        assert len(seen) < 3
    assert seen == [A]
    assert timers.next_s == 1.0
    assert next(timers.pop_due(1.0)) == A


def test_the_next_time_is_never_late() -> None:
    """`next_s` is at or before the earliest key that waits, and infinite without one."""
    timers = Timers()
    assert timers.next_s == math.inf
    timers.set(A, 3.0)
    timers.set(B, 2.0)
    assert timers.next_s <= 2.0
    timers.clear()
    assert timers.next_s == math.inf
