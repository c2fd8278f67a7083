"""Tests of bridge.page.views.flows.view: both seats, every state of an item as a word, the present phase first."""

from __future__ import annotations

from tests.bridge.page.page_builders import FlownDevice


def test_before_the_first_frame_it_says_so(flown: FlownDevice) -> None:
    """With nothing received no flow is said to belong to the phase."""
    assert "Nothing has come from the simulator yet" in flown.shown("flows").words


def test_every_state_is_a_word(flown: FlownDevice) -> None:
    """Met, open, excused, confirmed and without data are told by words; a sentence stands where it is not met."""
    flown.frame(0.0, {"lights.beacon": "off"})
    flown.ask("confirm", "flow.before.documents")
    words = flown.shown("flows").words
    for part in (
        "Beacon open beacon is off, needs on",
        "Documents confirmed",
        "Pressure met",
        "Logo waived dispatched inoperative",
        "Wing no data",
    ):
        assert part in words


def test_undone_is_told_from_out_of_date(flown: FlownDevice) -> None:
    """What was met and is not any more is undone; what was met and is out of date cannot be told."""
    for second in range(4):
        flown.frame(second)
    flown.frame(4.0, {"lights.beacon": "off"})
    assert "Beacon undone beacon is off" in flown.shown("flows").words
    flown.pass_time(60.0)
    assert "Pressure cannot tell hydraulic 1 pressure is out of date" in flown.shown("flows").words


def test_counts_are_of_each_seat(flown: FlownDevice) -> None:
    """Each seat has its own count, and the flow the sum of both."""
    flown.frame(0.0)
    words = flown.shown("flows").words
    assert "Before push back 3 of 6" in words
    assert "Captain 1 of 3" in words
    assert "First officer 2 of 3" in words


def test_what_the_next_gate_needs_follows_and_the_rest_is_counted(flown: FlownDevice) -> None:
    """The flow of the present phase is whole, that of a later phase only a number, and a touch only where it helps."""
    flown.frame(0.0)
    seen = flown.shown("flows")
    assert "1 flows of other phases Taxi flow 0 of 1" in seen.words
    assert seen.actions == [("confirm", "flow.before.documents")]
    flown.frame(1.0, {"flight.ground_speed": 3.0})
    later = flown.shown("flows").words
    assert later.startswith("Needed for what comes next Taxi flow")
