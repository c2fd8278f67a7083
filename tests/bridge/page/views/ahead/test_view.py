"""Tests of bridge.page.views.ahead.view: open items in every state of an item and of the link."""

from __future__ import annotations

import dataclasses

import pytest

from bridge.page.views.ahead.view import MAX_SHOWN, ahead, watch_violations
from bridge.page.widgets.item_list.item_list import items_by_seat
from rules.packs.model import Level, Pack
from rules.signals.model import Value
from tests.bridge.page.page_builders import PACK, FlownDevice, RenderedHtml, page_pack

ALL_MET = {"lights.wing": "on"}


def verdicts(seen: RenderedHtml) -> list[str]:
    """Return the verdict of each gate, which selects its colour."""
    return seen.attribute("data-verdict")


def test_before_the_first_frame_there_is_a_message(flown: FlownDevice) -> None:
    """Before the first frame no gate is shown, and no verdict is clear."""
    seen = flown.shown("ahead")
    assert "No data from the simulator yet" in seen.words
    assert verdicts(seen) == ["unknown"]


def test_open_items_are_sentences_with_actions(flown: FlownDevice) -> None:
    """An open item shows its sentence and seat, and no duration before it is due; an item without a signal can be confirmed."""
    for second in range(76):
        flown.frame(second, {"lights.beacon": "off"})
    seen = flown.shown("ahead")
    assert "Push back next 2 to do" in seen.words
    assert "beacon is off" in seen.words
    assert "due for" not in seen.words
    assert "people near the engines look for it" in seen.words
    assert ("confirm", "flow.before.documents") in seen.actions
    assert ("confirm", "flow.before.beacon") not in seen.actions
    assert ("waive", "flow.before.beacon") in seen.actions


def test_met_waived_and_unseen_items_are_folded(flown: FlownDevice) -> None:
    """Items that are met, waived or without data are in folds with their counts."""
    flown.frame(0.0)
    seen = flown.shown("ahead")
    for words in (
        "2 met",
        "Pressure First officer, met since 0:00:00",
        "1 waived",
        "Logo",
        "2 not judged",
        "Wing",
    ):
        assert words in seen.words
    assert {"met-push", "waived-push", "no-data-push"} <= set(seen.ids)


def test_a_cued_gate_shows_levels_the_most_severe_first(flown: FlownDevice) -> None:
    """After the cue each item shows its level as a word, and the gate has the most severe level."""
    flown.frame(0.0)
    flown.frame(10.0)
    wrong: dict[str, Value] = {"hydraulics.1.pressure": 900.0, "lights.beacon": "off"}
    flown.frame(12.0, wrong, push_approved=11.0)
    seen = flown.shown("ahead")
    assert seen.attribute("data-cued") == ["true"]
    assert seen.attribute("data-worst") == ["warning"]
    assert "about to begin" in seen.words
    assert "warning, check again" in seen.words
    assert "caution, check again" in seen.words
    assert seen.attribute("data-verdict") == ["open"]


def test_an_item_is_due_from_the_cue_on(flown: FlownDevice) -> None:
    """The beacon has been off for minutes, but is due since the cue; one that is lost later is due since then."""
    for second in range(180):
        flown.frame(second, {"lights.beacon": "off"})
    for second in range(180, 205):
        flown.frame(second, {"lights.beacon": "off"}, push_approved=180.0)
    assert "due for 24 s" in flown.shown("ahead").words
    flown.frame(210.0, {"lights.beacon": "off", "hydraulics.1.pressure": 900.0}, push_approved=180.0)
    flown.frame(213.0, {"lights.beacon": "off", "hydraulics.1.pressure": 900.0}, push_approved=180.0)
    words = flown.shown("ahead").words
    assert "due for 33 s" in words
    assert "due for 3 s" in words


def test_items_of_a_seat_are_sorted_by_level_after_the_cue(paged: Pack) -> None:
    """Sorting by level keeps the gate's order within a level; before the cue there is no sorting."""
    flown = FlownDevice(paged)
    flown.frame(0.0, {"lights.beacon": "off"})
    items = flown.device.session.snapshot().gates["push"].open_items
    items_by_level = [
        dataclasses.replace(items[0], level=Level.ADVISORY),
        dataclasses.replace(items[1], level=Level.WARNING),
    ]
    first = [one.level for one in items_by_seat(paged, items_by_level, 0.0, 0.0)[0].items]
    assert first == [Level.WARNING, Level.ADVISORY]
    unsorted = [one.level for one in items_by_seat(paged, items_by_level, 0.0, None)[0].items]
    assert unsorted == [Level.ADVISORY, Level.WARNING]


def test_a_gate_without_open_items_is_clear(flown: FlownDevice) -> None:
    """With all items met there is one sentence and no item."""
    flown.frame(0.0, ALL_MET, clearance=0.0)
    flown.ask("confirm", "flow.before.documents")
    seen = flown.shown("ahead")
    assert verdicts(seen) == ["clear"]
    assert "No open items" in seen.words
    assert "not judged" not in seen.words
    assert seen.attribute("data-level") == []


def test_a_gate_that_is_judged_in_part_is_not_clear(flown: FlownDevice) -> None:
    """A gate of which one item has no data says how much was judged, and has not the look of all clear."""
    flown.frame(0.0, clearance=0.0)
    flown.ask("confirm", "flow.before.documents")
    seen = flown.shown("ahead")
    assert "Nothing open, judged in part 4 of 5 judged" in seen.words
    assert verdicts(seen) == ["partial"]


def test_a_gate_is_not_clear_while_an_earlier_item_is_open(flown: FlownDevice) -> None:
    """What was carried from an earlier gate stays above the next gate, which does not look clear until it is corrected."""
    off: dict[str, Value] = {**ALL_MET, "lights.beacon": "off"}
    flown.frame(0.0, off, clearance=0.0, push_approved=0.0)
    for second in range(1, 4):
        flown.frame(second, off)
    moving: dict[str, Value] = {"flight.ground_speed": 3.0, "lights.taxi": "on"}
    for second in range(4, 8):
        flown.frame(second, {**off, **moving})
    seen = flown.shown("ahead")
    assert "Still open" in seen.words
    assert "beacon is off" in seen.words
    assert "Taxi about to begin No other open items 1 of 1 judged" in seen.words
    assert "clear" not in verdicts(seen)
    flown.ask("confirm", "flow.before.documents")
    for second in range(8, 12):
        flown.frame(second, {**ALL_MET, **moving})
    seen = flown.shown("ahead")
    assert "Still open" not in seen.words
    assert verdicts(seen) == ["clear"]


def test_an_exceeded_limit_comes_first_and_no_gate_is_clear(flown: FlownDevice) -> None:
    """A violated watch comes first, and the gate is not shown as clear."""
    flown.frame(0.0, {**ALL_MET, "engine.1.n2": 60.0, "engine.1.oil_pressure": 5.0}, clearance=0.0)
    flown.ask("confirm", "flow.before.documents")
    seen = flown.shown("ahead")
    assert verdicts(seen) == ["other_open"]
    assert seen.words.startswith("Wrong now warning")
    assert "engine 1 oil pressure 5 psi" in seen.words
    assert "No other open items" in seen.words


def test_a_lost_link_makes_items_unknown(flown: FlownDevice) -> None:
    """When no data arrives the gate is unknown, and no item shows a level."""
    flown.frame(0.0, {**ALL_MET, "lights.beacon": "off"}, push_approved=0.0)
    flown.pass_time(60.0)
    flown.device.source.failure = "the cable is out"
    seen = flown.shown("ahead")
    assert verdicts(seen) == ["unknown"]
    assert "Unknown:" in seen.words
    assert "unknown-push" in seen.ids
    assert "warning" not in seen.words


def test_a_paused_session_is_marked(flown: FlownDevice) -> None:
    """A paused session shows that its items are not checked."""
    flown.frame(0.0)
    flown.ask("pause")
    assert "This session is paused: items are not checked." in flown.shown("ahead").words


def test_the_gate_after_the_next_is_named(flown: FlownDevice) -> None:
    """One line names the gate after the next one, with its counts: an item of its own flow is later."""
    flown.frame(0.0, {"lights.taxi": "off"})
    assert "Then Taxi: 0 to do, 1 later, 1 of 1 judged" in flown.shown("ahead").words


@pytest.mark.parametrize("count", [MAX_SHOWN, MAX_SHOWN + 3])
def test_a_long_list_is_folded_with_every_item(tmp_path_factory: pytest.TempPathFactory, count: int) -> None:
    """The items after the first few are in a fold with their number; each item appears once."""
    more = "".join(f"      - extra_{n}: lights.landing.left is on\n" for n in range(count - 1))
    text = PACK.replace("      - documents:\n", more + "      - documents:\n", 1)
    flown = FlownDevice(page_pack(tmp_path_factory.mktemp("long") / "pack", text))
    flown.frame(0.0, {"lights.landing.left": "off"})
    seen = flown.shown("ahead")
    captain = [name for name in seen.ids if name.startswith("ahead-push-flow.before.")]
    assert len(captain) == len(set(captain)) == count
    assert ("gate-push-captain-rest" in seen.ids) is (count > MAX_SHOWN)


def test_the_values_do_not_change_later(flown: FlownDevice) -> None:
    """The values of the template stay the same when the flight continues."""
    flown.frame(0.0, {"lights.beacon": "off"})
    before = ahead(flown.device)
    values = repr(before["gates"])
    flown.frame(1.0)
    assert repr(before["gates"]) == values


def test_a_watch_is_violated_only_while_it_applies_and_is_known(flown: FlownDevice) -> None:
    """A limit is exceeded while its watch applies and its value is known to be out of range."""
    flown.frame(0.0, {"engine.1.n2": 60.0})
    assert watch_violations(flown.device) == []
    flown.frame(1.0, {"engine.1.n2": 60.0, "engine.1.oil_pressure": 5.0})
    assert [(one.level, one.seat, one.label) for one in watch_violations(flown.device)] == [
        (Level.WARNING, "Captain", "Oil pressure")
    ]
    flown.frame(2.0, {"engine.1.n2": 60.0, "engine.1.oil_pressure": 40.0})
    assert watch_violations(flown.device) == []


def test_a_doubt_is_shown_apart_from_open_errors(flown: FlownDevice) -> None:
    """What could not be verified at an earlier gate is folded under its own count, and is not listed as still open."""
    flown.pass_with_a_doubt()
    seen = flown.shown("ahead")
    assert "1 not verifiable" in seen.words
    assert "doubts" in seen.ids
    assert "Still open" not in seen.words
