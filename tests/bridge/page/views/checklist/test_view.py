"""Tests of bridge.page.views.checklist.view: the choice, each kind of line, and the end of a run."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bridge.page.views.checklist.view import gate_after
from bridge.session.checklist_run import DWELL_S
from rules.packs.model import Pack
from rules.signals.model import Value
from tests.bridge.builders import PACK as SMALL
from tests.bridge.page.page_builders import PACK, FlownDevice, page_pack

WING_ON = {"lights.wing": "on"}


def test_due_checklists_come_first(flown: FlownDevice) -> None:
    """A checklist of the next gates comes before the others, with its reader and the number of met lines."""
    flown.frame(0.0)
    words = flown.shown("checklist").words
    assert words.startswith(
        "Before the next gates Before push before Push back; for First officer to read; 2 of 4 lines are met now"
    )
    flown.frame(1.0, {"flight.ground_speed": 3.0})
    later = flown.shown("checklist").words
    assert later.startswith("Before the next gates Taxi list")
    assert "Other checklists Before push" in later


def test_a_pack_without_checklists_shows_a_message(tmp_path_factory: pytest.TempPathFactory) -> None:
    """An empty choice is a message."""
    flown = FlownDevice(page_pack(tmp_path_factory.mktemp("none") / "pack", SMALL))
    assert "This pack has no checklists" in flown.shown("checklist").words


def test_a_checklist_belongs_to_the_gate_that_needs_most_of_it(paged: Pack) -> None:
    """The gate of a checklist follows from the needs of the gates."""
    gates = {one.id: gate_after(one, paged.gates) for one in paged.checklists.values()}
    assert {name: gate and gate.id for name, gate in gates.items()} == {
        "before": "push",
        "all": "push",
        "taxi": "taxi",
    }


def test_a_met_line_needs_no_action(flown: FlownDevice) -> None:
    """The answer is filled in from the state, and the line has no button."""
    flown.frame(0.0)
    flown.ask("start_checklist", "before")
    seen = flown.shown("checklist")
    assert "1 of 4; for First officer to read" in seen.words
    assert "Beacon on ✓ Met" in seen.words
    assert [verb for verb, _ in seen.actions] == ["close_checklist", "start_checklist"]


def test_the_run_continues_until_a_line_needs_confirmation(flown: FlownDevice) -> None:
    """After the dwell time the next line is current; a line without a signal has Confirm."""
    flown.frame(0.0)
    flown.ask("start_checklist", "before")
    flown.pass_time(DWELL_S)
    seen = flown.shown("checklist")
    assert "2 of 4" in seen.words
    assert "No signal for this: Captain confirms it." in seen.words
    assert [verb for verb, _ in seen.actions] == [
        "confirm",
        "leave_open",
        "close_checklist",
        "start_checklist",
    ]


def test_an_unmet_line_shows_its_reason_and_cannot_be_confirmed(flown: FlownDevice) -> None:
    """An open line with a signal has its reason and Leave open, but no Confirm."""
    flown.frame(0.0, {"lights.beacon": "off"})
    flown.ask("start_checklist", "before")
    seen = flown.shown("checklist")
    assert "Not met: beacon is off" in seen.words
    assert [verb for verb, _ in seen.actions] == ["leave_open", "close_checklist", "start_checklist"]
    assert not flown.ask("confirm", "flow.before.beacon").accepted


def test_a_line_without_data_is_marked(flown: FlownDevice) -> None:
    """A line without data differs from an unmet line."""
    flown.frame(0.0)
    flown.ask("start_checklist", "before")
    for _ in range(3):
        flown.ask("leave_open")
    assert "No data from the simulator: no data for wing" in flown.shown("checklist").words


def test_the_end_of_a_run_shows_the_open_lines(flown: FlownDevice) -> None:
    """Lines left open are shown at the end; when all are met the checklist is complete."""
    flown.frame(0.0, {"lights.beacon": "off", **WING_ON})
    flown.ask("confirm", "flow.before.documents")
    flown.ask("start_checklist", "before")
    for _ in range(4):
        flown.ask("leave_open")
    ended = flown.shown("checklist").words
    assert "1 still open" in ended
    assert "Beacon Captain beacon is off" in ended
    flown.frame(1.0, WING_ON)
    assert "Before push complete" in flown.shown("checklist").words


def test_closing_a_checklist_shows_the_choice(flown: FlownDevice) -> None:
    """After closing, no line is shown."""
    flown.frame(0.0)
    flown.ask("start_checklist", "before")
    assert "close_checklist" in dict(flown.shown("checklist").actions)
    flown.ask("close_checklist")
    seen = flown.shown("checklist")
    assert "close_checklist" not in dict(seen.actions)
    assert ("start_checklist", "before") in seen.actions


def test_a_line_of_several_items_says_each_that_is_open(flown: FlownDevice) -> None:
    """A line is met only when all of its items are: each open one is said, and only what no signal shows is confirmed."""
    flown.frame(0.0, {"lights.beacon": "off", "hydraulics.1.pressure": 100.0})
    flown.ask("start_checklist", "all")
    seen = flown.shown("checklist")
    assert "Not met: beacon is off" in seen.words
    assert "Not met: hydraulic 1 pressure 100 psi, needs 2 800 to 3 200 psi" in seen.words
    assert "No signal for Documents on board: Captain confirms it." in seen.words
    assert seen.actions[:2] == [("confirm", "flow.before.documents"), ("leave_open", "all")]
    assert not flown.ask("confirm", "flow.before.pressure").accepted
    assert flown.ask("confirm", "flow.before.documents").accepted
    flown.frame(1.0, {"lights.beacon": "on", "hydraulics.1.pressure": 100.0})
    seen = flown.shown("checklist")
    assert "Not met: beacon" not in seen.words
    assert "hydraulic 1 pressure 100 psi" in seen.words
    flown.ask("leave_open")
    ended = flown.shown("checklist").words
    assert "1 still open All First officer hydraulic 1 pressure 100 psi, needs 2 800 to 3 200 psi" in ended
    flown.frame(2.0)
    assert "All complete" in flown.shown("checklist").words


@pytest.mark.parametrize("calls", [True, False])
def test_a_finished_run_says_that_it_is_no_call(tmp_path: Path, *, calls: bool) -> None:
    """A run on the page does not replace the crew's call, where the pack has calls; before its end nothing is said."""
    text = PACK if calls else re.sub(r"(?m)^calls:\n(  .*\n)+", "", PACK)
    text = text if calls else re.sub(r"call\.\w+ happened", "lights.beacon is on", text)
    flown = FlownDevice(page_pack(tmp_path / "pack", text))
    flown.frame(0.0)
    flown.ask("start_checklist", "taxi")
    assert "no-call" not in flown.shown("checklist").ids
    flown.ask("leave_open", "taxi")
    flown.pass_time(DWELL_S)
    assert ("no-call" in flown.shown("checklist").ids) is calls


def test_an_unmet_line_shows_no_answer(flown: FlownDevice) -> None:
    """The words of an answer say how it should be: they are shown only where the line is met."""
    flown.frame(0.0, {"lights.beacon": "off"})
    flown.ask("start_checklist", "before")
    assert flown.shown("checklist").words.count("Beacon off") == 0
    flown.ask("leave_open")
    left = flown.shown("checklist").words
    assert "Documents on board" not in left
    assert "Beacon not met: beacon is off" in left
    flown.frame(1.0)
    flown.ask("confirm", "flow.before.documents")
    met = flown.shown("checklist").words
    assert "Beacon on" in met
    assert "Documents on board ✓ Confirmed" in met


@pytest.mark.parametrize(("first", "word"), [({}, "not known"), ({"lights.beacon": "off"}, "not met")])
def test_a_line_is_not_met_as_soon_as_one_item_is_not(
    flown: FlownDevice, first: dict[str, Value], word: str
) -> None:
    """A line with an item without data beside one that is known not to be met is not met, whichever comes first."""
    values: dict[str, Value] = {"lights.beacon": "on", "hydraulics.1.pressure": "?", **first}
    flown.frame(0.0, values)
    flown.ask("confirm", "flow.before.documents")
    flown.ask("start_checklist", "all")
    flown.ask("leave_open")
    line = flown.device.session.snapshot().checklists["all"].lines[0]
    assert line.known_unmet is (word == "not met")
    assert f"{word}:" in flown.shown("checklist").html
