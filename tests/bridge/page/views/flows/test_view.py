"""Tests of bridge.page.views.flows.view: flows of both seats, and the status of every item as a word."""

from __future__ import annotations

from tests.bridge.page.page_builders import FlownDevice


def test_before_the_first_frame_there_is_a_message(flown: FlownDevice) -> None:
    """Before the first frame there is no message about the phase's flows."""
    assert "No data from the simulator yet" in flown.shown("flows").words


def test_every_status_is_a_word(flown: FlownDevice) -> None:
    """Each status is shown by a word; an item that is not met has a sentence."""
    flown.frame(0.0, {"lights.beacon": "off"})
    flown.ask("confirm", "flow.before.documents")
    words = flown.shown("flows").words
    for part in (
        "Beacon open beacon is off",
        "Documents confirmed",
        "Pressure met",
        "Logo waived dispatched inoperative",
        "Wing no data",
    ):
        assert part in words


def test_undone_differs_from_unknown(flown: FlownDevice) -> None:
    """An item that was met and is not any more is to be checked again, as the voice says it; one whose signals are stale is unknown."""
    for second in range(4):
        flown.frame(second)
    flown.frame(4.0, {"lights.beacon": "off"})
    assert "Beacon check again beacon is off" in flown.shown("flows").words
    flown.pass_time(60.0)
    assert "Pressure unknown hydraulic 1 pressure is out of date" in flown.shown("flows").words


def test_counts_are_of_each_seat(flown: FlownDevice) -> None:
    """Each seat has a count, and the flow has the sum of both."""
    flown.frame(0.0)
    words = flown.shown("flows").words
    assert "Before push back 3 of 6" in words
    assert "Captain 1 of 3" in words
    assert "First officer 2 of 3" in words


def test_flows_of_the_next_gate_follow_and_others_are_counted(flown: FlownDevice) -> None:
    """The flow of the current phase is complete, one of a later phase is a count, and only confirmable items have buttons."""
    flown.frame(0.0)
    seen = flown.shown("flows")
    assert "1 flows of other phases Taxi flow 0 of 1" in seen.words
    assert seen.actions == [("confirm", "flow.before.documents")]
    flown.frame(1.0, {"flight.ground_speed": 3.0})
    later = flown.shown("flows").words
    assert later.startswith("Needed for the next gate Taxi flow")


def test_items_without_data_are_folded(flown: FlownDevice) -> None:
    """Items without data are apart from the others of their seat, with their number, and count with them."""
    flown.frame(0.0)
    seen = flown.shown("flows")
    assert "1 without data ? Wing no data" in seen.words
    assert "flow-no-data-before-first_officer" in seen.ids
