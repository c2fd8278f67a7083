"""Tests of bridge.session.call_register: the time of each call, and how long it can be undone."""

from __future__ import annotations

from bridge.session.call_register import UNDO_WINDOW_S, CallRegister, RegisteredCall
from rules.judge.events import CallEntered, CallUndone
from tests.contract.waiting import ManualClock


def test_the_latest_entry_has_both_times(clock: ManualClock) -> None:
    """The latest entry has the UTC and the simulator time."""
    call_register = CallRegister(clock)
    assert call_register.latest("push") is None
    call_register(CallEntered(5.0, "push", "ground"))
    clock.now_s += 3
    call_register(CallEntered(8.0, "push", "atc"))
    assert call_register.latest("push") == RegisteredCall("push", "atc", 103.0, 8.0)


def test_a_call_can_be_undone_for_a_limited_time(clock: ManualClock) -> None:
    """The remaining time falls to 0, and is 0 for a call that was not entered."""
    call_register = CallRegister(clock)
    assert call_register.undo_left_s("push") == 0
    call_register(CallEntered(5.0, "push", ""))
    assert call_register.undo_left_s("push") == UNDO_WINDOW_S
    clock.now_s += UNDO_WINDOW_S - 0.5
    assert call_register.undo_left_s("push") == 0.5
    clock.now_s += 0.5
    assert call_register.undo_left_s("push") == 0


def test_undo_removes_only_the_latest_entry(clock: ManualClock) -> None:
    """An undo removes the latest entry; the one before is the latest again, and a further undo of none is ignored."""
    call_register = CallRegister(clock)
    call_register(CallEntered(5.0, "push", "ground"))
    call_register(CallEntered(8.0, "push", "atc"))
    call_register(CallUndone(9.0, "push", "atc", 8.0))
    latest = call_register.latest("push")
    assert latest is not None
    assert latest.by == "ground"
    call_register(CallUndone(9.0, "push", "", 5.0))
    call_register(CallUndone(9.0, "push", "", 5.0))
    assert call_register.latest("push") is None


def test_a_pending_call_gets_its_simulator_time_with_the_first_frame(clock: ManualClock) -> None:
    """It is one entry: the UTC is that of the request, the simulator time that of the first frame."""
    call_register = CallRegister(clock)
    call_register.add_pending("push", "ground")
    assert call_register.latest("push") == RegisteredCall("push", "ground", 100.0, None)
    clock.now_s += 4
    call_register(CallEntered(2.0, "push", ""))
    assert call_register.latest("push") == RegisteredCall("push", "ground", 100.0, 2.0)
    call_register.drop_pending("push")
    assert call_register.latest("push") is None
