"""Tests of bridge.page.views.checklist.view: the choice, each kind of line, and the end of a reading."""

from __future__ import annotations

import pytest

from bridge.page.views.checklist.view import gate_after
from bridge.session.checklist_run import DWELL_S
from rules.packs.model import Pack
from tests.bridge.builders import PACK as SMALL
from tests.bridge.page.page_builders import FlownDevice, page_pack

SO = {"lights.wing": "on"}


def test_the_lists_that_are_due_come_first(flown: FlownDevice) -> None:
    """A list that the next gates need stands before the others, with who reads it and how much is so."""
    flown.frame(0.0)
    words = flown.shown("checklist").words
    assert words.startswith(
        "For what comes next Before push before Push back; read by First officer; 2 of 4 so now"
    )
    flown.frame(1.0, {"flight.ground_speed": 3.0})
    later = flown.shown("checklist").words
    assert later.startswith("For what comes next Taxi list")
    assert "Others Before push" in later


def test_a_pack_without_checklists_says_so(tmp_path_factory: pytest.TempPathFactory) -> None:
    """An empty choice is a sentence."""
    flown = FlownDevice(page_pack(tmp_path_factory.mktemp("none") / "pack", SMALL))
    assert "This pack has no checklist" in flown.shown("checklist").words


def test_a_list_belongs_to_the_gate_that_needs_most_of_it(paged: Pack) -> None:
    """Which gate a list comes before is worked out from what the gates need."""
    gates = {one.id: gate_after(one, paged.gates) for one in paged.checklists.values()}
    assert {name: gate and gate.id for name, gate in gates.items()} == {"before": "push", "taxi": "taxi"}


def test_a_line_that_is_so_needs_no_touch(flown: FlownDevice) -> None:
    """The answer is filled in from the state, and nothing is to be pressed for it."""
    flown.frame(0.0)
    flown.ask("start_checklist", "before")
    seen = flown.shown("checklist")
    assert "1 of 4; read by First officer" in seen.words
    assert "Beacon on ✓ so" in seen.words
    assert [verb for verb, _ in seen.actions] == ["close_checklist", "start_checklist"]


def test_it_goes_on_by_itself_and_asks_for_a_touch_only_where_no_signal_can(flown: FlownDevice) -> None:
    """After the time that a line takes the next one is at; a line that only the crew knows has Confirm."""
    flown.frame(0.0)
    flown.ask("start_checklist", "before")
    flown.pass_time(DWELL_S)
    seen = flown.shown("checklist")
    assert "2 of 4" in seen.words
    assert "No signal shows this: Captain says it." in seen.words
    assert [verb for verb, _ in seen.actions] == [
        "confirm",
        "leave_open",
        "close_checklist",
        "start_checklist",
    ]


def test_a_line_that_is_not_so_says_why_and_cannot_be_confirmed(flown: FlownDevice) -> None:
    """So, not said: an open line has its reason and Leave open, and no Confirm."""
    flown.frame(0.0, {"lights.beacon": "off"})
    flown.ask("start_checklist", "before")
    seen = flown.shown("checklist")
    assert "Not so: beacon is off, needs on" in seen.words
    assert [verb for verb, _ in seen.actions] == ["leave_open", "close_checklist", "start_checklist"]
    assert not flown.ask("confirm", "flow.before.beacon").accepted


def test_a_line_of_which_nothing_is_sent_says_so(flown: FlownDevice) -> None:
    """No data is told from not so."""
    flown.frame(0.0)
    flown.ask("start_checklist", "before")
    for _ in range(3):
        flown.ask("leave_open")
    assert "The simulator sends nothing of this: no data for wing" in flown.shown("checklist").words


def test_at_the_end_it_is_complete_or_says_what_is_open(flown: FlownDevice) -> None:
    """What was left open is told at the end with its sentence, until it is so: then the list is complete."""
    flown.frame(0.0, {"lights.beacon": "off", **SO})
    flown.ask("confirm", "flow.before.documents")
    flown.ask("start_checklist", "before")
    for _ in range(4):
        flown.ask("leave_open")
    ended = flown.shown("checklist").words
    assert "1 still open" in ended
    assert "Beacon Captain beacon is off, needs on" in ended
    flown.frame(1.0, SO)
    assert "Before push complete" in flown.shown("checklist").words


def test_put_away_brings_the_choice_back(flown: FlownDevice) -> None:
    """After it was put away no line is shown."""
    flown.frame(0.0)
    flown.ask("start_checklist", "before")
    assert "close_checklist" in dict(flown.shown("checklist").actions)
    flown.ask("close_checklist")
    seen = flown.shown("checklist")
    assert "close_checklist" not in dict(seen.actions)
    assert ("start_checklist", "before") in seen.actions
