"""Tests of bridge.session.call_register: the time of each call, and how long it can be undone."""

from __future__ import annotations

from bridge.session.call_register import UNDO_WINDOW_S, CallRegister, RegisteredCall
from rules.judge.events import CallEntered, CallUndone
from tests.contract.waiting import ManualClock


def test_a_call_is_known_with_both_times(clock: ManualClock) -> None:
    """The latest entry has the UTC and the simulator time."""
    spoken = CallRegister(clock)
    assert spoken.latest("push") is None
    spoken(CallEntered(5.0, "push", "ground"))
    clock.now_s += 3
    spoken(CallEntered(8.0, "push", "atc"))
    assert spoken.latest("push") == RegisteredCall("push", "atc", 103.0, 8.0)


def test_it_may_be_taken_back_for_so_long_and_no_longer(clock: ManualClock) -> None:
    """The time left goes down to nothing, and is nothing for a call that was not made."""
    spoken = CallRegister(clock)
    assert spoken.undo_left_s("push") == 0
    spoken(CallEntered(5.0, "push", ""))
    assert spoken.undo_left_s("push") == UNDO_WINDOW_S
    clock.now_s += UNDO_WINDOW_S - 0.5
    assert spoken.undo_left_s("push") == 0.5
    clock.now_s += 0.5
    assert spoken.undo_left_s("push") == 0


def test_taken_back_the_making_before_it_stands(clock: ManualClock) -> None:
    """A retraction takes the latest making away, no other and no more than there are."""
    spoken = CallRegister(clock)
    spoken(CallEntered(5.0, "push", "ground"))
    spoken(CallEntered(8.0, "push", "atc"))
    spoken(CallUndone(9.0, "push", "atc", 8.0))
    latest = spoken.latest("push")
    assert latest is not None
    assert latest.by == "ground"
    spoken(CallUndone(9.0, "push", "", 5.0))
    spoken(CallUndone(9.0, "push", "", 5.0))
    assert spoken.latest("push") is None


def test_a_call_before_the_first_frame_gets_its_time_then(clock: ManualClock) -> None:
    """It is one making, not two: the wall's time is that of the word, the simulator's that of the first frame."""
    spoken = CallRegister(clock)
    spoken.add_pending("push", "ground")
    assert spoken.latest("push") == RegisteredCall("push", "ground", 100.0, None)
    clock.now_s += 4
    spoken(CallEntered(2.0, "push", ""))
    assert spoken.latest("push") == RegisteredCall("push", "ground", 100.0, 2.0)
    spoken.drop_pending("push")
    assert spoken.latest("push") is None
