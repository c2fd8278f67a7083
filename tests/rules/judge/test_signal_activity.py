"""Activity of single signals: moves and freshness."""

from __future__ import annotations

from rules.judge.signal_activity import SignalActivity
from rules.signals.model import Quality, Sample, Value

READERS = {"heading": ("dial",), "mode": ("dial", "other"), "lamp": ("other",)}


def new_activity() -> SignalActivity:
    """Activity with two value signals and three signals that are read."""
    return SignalActivity({"heading", "mode"}, READERS)


def fresh(name: str, value: Value) -> Sample:
    """A fresh sample."""
    return Sample(name, value, Quality.FRESH, 0.0)


def test_a_second_value_is_a_move() -> None:
    """A signal is moved after two different values, also when it goes back."""
    activity = new_activity()
    activity.observe([fresh("heading", 100.0)])
    assert not activity.moved(["heading"])
    activity.observe([fresh("heading", 110.0), fresh("heading", 100.0)])
    assert activity.moved(["mode", "heading"])
    assert not activity.moved(["mode"])


def test_rounding_does_not_count_as_a_move() -> None:
    """A difference of 32-bit rounding is no move."""
    activity = new_activity()
    activity.observe([fresh("heading", 100.0), fresh("heading", 100.00001)])
    assert not activity.moved(["heading"])


def test_only_value_signals_can_be_moved() -> None:
    """Only value signals can be moved."""
    activity = new_activity()
    activity.observe([fresh("lamp", "off"), fresh("lamp", "on")])
    assert not activity.moved(["lamp"])


def test_touched_when_freshness_changes() -> None:
    """The readers of a signal are touched when it becomes fresh and when it ceases to be, not in between."""
    activity = new_activity()
    assert activity.observe([fresh("mode", "on")]) == {"dial", "other"}
    assert activity.observe([fresh("mode", "off")]) == set()
    assert activity.observe([Sample("mode", "off", Quality.STALE, 1.0)]) == {"dial", "other"}
    assert activity.observe([Sample("mode", None, Quality.INVALID, 2.0)]) == set()
    assert activity.observe([fresh("mode", "off")]) == {"dial", "other"}


def test_rebase_begins_with_the_present_values() -> None:
    """After a rebase the present value is the first one."""
    activity = new_activity()
    activity.observe([fresh("heading", 100.0), fresh("heading", 110.0)])
    activity.rebase({"heading": 110.0})
    assert not activity.moved(["heading"])
    activity.observe([fresh("heading", 100.0)])
    assert activity.moved(["heading"])


def test_forgetting() -> None:
    """After a reset nothing is moved and all signals are new."""
    activity = new_activity()
    activity.observe([fresh("heading", 100.0), fresh("heading", 110.0)])
    activity.reset()
    assert not activity.moved(["heading"])
    assert activity.observe([fresh("heading", 100.0)]) == {"dial"}
