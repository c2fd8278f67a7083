"""Tests of bridge.page.views.ahead.view: what stands in the way, in every state of an item and of the link."""

from __future__ import annotations

import dataclasses

import pytest

from bridge.page.views.ahead.view import MAX_SHOWN, ahead
from bridge.page.widgets.item_list.item_list import items_by_seat
from rules.judge.snapshot import gate_snapshot
from rules.packs.model import Level, Pack
from rules.signals.model import Value
from tests.bridge.page.page_builders import PACK, FlownDevice, RenderedHtml, page_pack

ALL_SO = {"lights.wing": "on"}


def verdicts(seen: RenderedHtml) -> list[str]:
    """How each gate stands, in the word that the page's colours go by."""
    return seen.attribute("data-verdict")


def test_before_the_first_frame_it_says_so(flown: FlownDevice) -> None:
    """With nothing received no gate is shown, and nothing is said to be clear."""
    seen = flown.shown("ahead")
    assert "Nothing has come from the simulator yet" in seen.words
    assert verdicts(seen) == ["unknown"]


def test_open_items_stand_as_sentences_with_their_touch(flown: FlownDevice) -> None:
    """An open item says what is wanted, whose and for how long; what only the crew knows can be confirmed."""
    for second in range(76):
        flown.frame(second, {"lights.beacon": "off"})
    seen = flown.shown("ahead")
    assert "Push back comes next 2 to do" in seen.words
    assert "beacon is off, needs on" in seen.words
    assert "for 1 min" in seen.words
    assert "people near the engines look for it" in seen.words
    assert ("confirm", "flow.before.documents") in seen.actions
    assert ("confirm", "flow.before.beacon") not in seen.actions
    assert ("waive", "flow.before.beacon") in seen.actions


def test_met_excused_and_unseen_items_fold_away_and_are_listed(flown: FlownDevice) -> None:
    """What is met, excused or without data is counted in a fold each, with every item in it."""
    flown.frame(0.0)
    seen = flown.shown("ahead")
    for words in (
        "2 met",
        "Pressure First officer, met since 0:00:00",
        "1 excused",
        "Logo",
        "without data",
        "Wing",
    ):
        assert words in seen.words
    assert {"met-push", "excused-push", "blind-push"} <= set(seen.ids)


def test_a_cued_gate_puts_the_gravest_first_and_names_levels(flown: FlownDevice) -> None:
    """After the cue each item has its level as a word, the warning is the gate's, and undone is said."""
    flown.frame(0.0)
    flown.frame(10.0)
    wrong: dict[str, Value] = {"hydraulics.1.pressure": 900.0, "lights.beacon": "off"}
    flown.frame(12.0, wrong, push_approved=11.0)
    seen = flown.shown("ahead")
    assert seen.attribute("data-cued") == ["true"]
    assert seen.attribute("data-worst") == ["warning"]
    assert "about to go" in seen.words
    assert "warning, undone" in seen.words
    assert "caution, undone" in seen.words
    assert "stand in the way" in seen.words


def test_the_gravest_comes_first_within_a_seat_and_else_the_order_of_the_gate(paged: Pack) -> None:
    """Sorting by level keeps the gate's order among equals, and is not done before the cue."""
    flown = FlownDevice(paged)
    flown.frame(0.0, {"lights.beacon": "off"})
    items = gate_snapshot(flown.device.session.judge, "push").open_items
    graver = [
        dataclasses.replace(items[0], level=Level.ADVISORY),
        dataclasses.replace(items[1], level=Level.WARNING),
    ]
    first = [one.snapshot.level for one in items_by_seat(paged, graver, gravest_first=True)[0].items]
    assert first == [Level.WARNING, Level.ADVISORY]
    kept = [one.snapshot.level for one in items_by_seat(paged, graver, gravest_first=False)[0].items]
    assert kept == [Level.ADVISORY, Level.WARNING]


def test_nothing_in_the_way_is_unmistakable(flown: FlownDevice) -> None:
    """With all met the one sentence stands, once, and not a single item."""
    flown.frame(0.0, ALL_SO, clearance=0.0)
    flown.ask("confirm", "flow.before.documents")
    seen = flown.shown("ahead")
    assert verdicts(seen) == ["clear"]
    assert "Nothing stands in the way" in seen.words
    assert "as far as it can be seen" not in seen.words
    assert seen.attribute("data-level") == []


def test_what_nobody_sends_is_not_hidden_behind_a_clear_gate(flown: FlownDevice) -> None:
    """A clear gate with items without data says how many there are."""
    flown.frame(0.0, clearance=0.0)
    flown.ask("confirm", "flow.before.documents")
    assert "Nothing stands in the way, as far as it can be seen: 1 without data" in flown.shown("ahead").words


def test_what_is_wrong_now_comes_before_a_gate_and_takes_its_green(flown: FlownDevice) -> None:
    """A watch that does not hold stands first, and the gate is then not called clear."""
    flown.frame(0.0, {**ALL_SO, "engine.1.n2": 60.0, "engine.1.oil_pressure": 5.0}, clearance=0.0)
    flown.ask("confirm", "flow.before.documents")
    seen = flown.shown("ahead")
    assert verdicts(seen) == ["else"]
    assert seen.words.startswith("Wrong now warning")
    assert "engine 1 oil pressure 5 psi" in seen.words
    assert "Nothing else stands in the way" in seen.words


def test_a_lost_link_is_one_word_and_not_many_warnings(flown: FlownDevice) -> None:
    """When nothing arrives any more the gate cannot be told, and no item has a level."""
    flown.frame(0.0, {**ALL_SO, "lights.beacon": "off"}, push_approved=0.0)
    flown.pass_time(60.0)
    flown.device.runner.supervised_link.failure = "the cable is out"
    seen = flown.shown("ahead")
    assert verdicts(seen) == ["unknown"]
    assert "Cannot tell:" in seen.words
    assert "cannot be told" in seen.words
    assert "warning" not in seen.words


def test_a_session_that_does_not_run_says_that_nothing_is_judged(flown: FlownDevice) -> None:
    """A paused session shows that what stands there is not judged."""
    flown.frame(0.0)
    flown.ask("pause")
    assert "This session is paused: nothing is judged." in flown.shown("ahead").words


def test_the_gate_after_the_next_is_named(flown: FlownDevice) -> None:
    """One line says what comes after the next gate, and how much is to do for it."""
    flown.frame(0.0, {"lights.taxi": "off"})
    assert "Then Taxi: 1 to do" in flown.shown("ahead").words


@pytest.mark.parametrize("count", [MAX_SHOWN, MAX_SHOWN + 3])
def test_a_long_list_folds_but_hides_nothing(tmp_path_factory: pytest.TempPathFactory, count: int) -> None:
    """Beyond a few items the rest is in a fold with its number; each item is there once."""
    more = "".join(f"      - extra_{n}: lights.landing.left is on\n" for n in range(count - 1))
    text = PACK.replace("      - documents:\n", more + "      - documents:\n", 1)
    flown = FlownDevice(page_pack(tmp_path_factory.mktemp("long") / "pack", text))
    flown.frame(0.0, {"lights.landing.left": "off"})
    seen = flown.shown("ahead")
    captain = [name for name in seen.ids if name.startswith("ahead-push-flow.before.")]
    assert len(captain) == len(set(captain)) == count
    assert ("gate-push-captain-rest" in seen.ids) is (count > MAX_SHOWN)


def test_the_panel_is_plain_values(flown: FlownDevice) -> None:
    """What the template is given does not change when the flight goes on."""
    flown.frame(0.0, {"lights.beacon": "off"})
    before = ahead(flown.device)
    kept = repr(before["gates"])
    flown.frame(1.0)
    assert repr(before["gates"]) == kept
