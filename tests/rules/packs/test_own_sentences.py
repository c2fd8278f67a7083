"""Sentences of a pack's own: loading, faults with their places, and merging."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.packs.load_pack import load_pack
from rules.packs.model import OwnSentences
from rules.packs.trip_sheet import TripSheet
from tests.rules.packs.sample_packs import COMPLETE_PACK, load_faults, load_text, replace_text

LANDING = ("lights.landing.left", "lights.landing.right")
ITEM = "      - beacon: lights.beacon is on\n"
WATCH = "    expect: lights.beacon is on\nquiets"


def _item(say: str) -> str:
    """Text of the pack whose beacon item has this `say`."""
    return replace_text(ITEM, f"{ITEM}        say: {say}\n")


@pytest.mark.parametrize(
    ("say", "sentences"),
    [
        (
            '{open: "beacon still dark", met: beacon flashing}',
            OwnSentences("beacon still dark", "beacon flashing"),
        ),
        ("{open: beacon still dark}", OwnSentences("beacon still dark")),
        (
            '{met: "{flight.heading} is it"}',
            OwnSentences(met="{flight.heading} is it", shown={"flight.heading": ("flight.heading",)}),
        ),
        (
            '{open: "lights {lights.landing.*}, least {limit.accumulator_low}"}',
            OwnSentences("lights {lights.landing.*}, least 2 600 psi", shown={"lights.landing.*": LANDING}),
        ),
    ],
)
def test_an_item_has_its_own_sentences(tmp_path: Path, say: str, sentences: OwnSentences) -> None:
    """An item may give a sentence for open, for met, or for both; the others have none."""
    pack = load_text(tmp_path, _item(say))
    assert pack.items["flow.before_start.beacon"].say == sentences
    assert pack.items["flow.before_start.pumps.left_aft"].say == OwnSentences()


PUMPS = "fuel.pump.*.switch is on\n"


def _pumps(condition: str, say: str) -> str:
    """Text of the pack whose pumps item has this condition and `say`."""
    return replace_text(PUMPS, f"{condition}\n        say: {say}\n")


def test_each_match_has_its_own_sentence(tmp_path: Path) -> None:
    """A `*` is the match: as read in the text, as written in the name of a signal; the rest has the general form."""
    say = '{open: "pump * is {fuel.pump.*.switch}", met: "* pump good"}'
    items = load_text(tmp_path, _pumps("fuel.pump.*.switch is on and lights.logo is on", say)).items
    name = "fuel.pump.left_aft.switch"
    left = OwnSentences(f"pump left aft is {{{name}}}", "left aft pump good", {name: (name,)})
    assert items["flow.before_start.pumps.left_aft"].say == left
    assert items["flow.before_start.pumps.rest"].say == OwnSentences()


@pytest.mark.parametrize(
    ("condition", "say", "fault"),
    [
        (PUMPS, "{open: a pump is off}", "21:21: this sentence is said of each match of the `*`, and does not say of which, expected a `*`"),
        (f"{PUMPS.strip()} and lights.logo is on", '{open: "* pump off", met: all on}', "21:40: this sentence is said of each match"),
        (f"any {PUMPS}", '{open: "pump * off"}', "21:27: this `*` stands for nothing, expected a text without a bare `*`"),
        (f"at least 2 of ({PUMPS.strip()})", '{met: "pump *"}', "21:26: this `*` stands for nothing"),
        (PUMPS, '{open: "* pump {fuel.pump.left_aft.switch}"}',
         "21:30: fuel.pump.left_aft.switch is the same in the sentence of every match, expected {fuel.pump.*.switch} | or name all"),
        (PUMPS, '{open: "* pump, N2 {engine.*.n2}"}', "21:34: the `*` of engine.*.n2 (1 and 2) is not that of the rule (centre_left,"),
        (f"{PUMPS.strip()} and engine.*.n2 > 5 %", '{open: "* is off"}', "21:22: the rule has several `*`, (centre_left,"),
        (PUMPS, '{open: "* pump {fuel.pmp.*.switch}"}', "21:30: no signal fits fuel.pmp.*.switch"),
        (PUMPS, '{open: "* pump {flight.headin}"}', "21:30: unknown signal flight.headin"),
    ],
)  # fmt: skip
def test_a_sentence_is_about_its_match(tmp_path: Path, condition: str, say: str, fault: str) -> None:
    """Of each match it says of which; it gives no value of one fixed match, nor of another `*`."""
    faults = load_faults(tmp_path, _pumps(condition.strip(), say))
    assert len(faults) == 1
    assert faults[0].startswith(fault)


@pytest.mark.parametrize(
    "say",
    [
        '{open: "* pump, heading {flight.heading}"}',
        '{open: "{fuel.pump.*.switch}"}',
        '{open: "* low: least {limit.accumulator_low}"}',
    ],
)
def test_sentences_of_matches_that_load(tmp_path: Path, say: str) -> None:
    """Signals that are no match of the `*` may be said of each match, and limits too."""
    assert load_text(tmp_path, _pumps(PUMPS.strip(), say)).faults == ()


def test_all_matches_may_be_named(tmp_path: Path) -> None:
    """A sentence that names every match compares them."""
    say = '{open: "engine * runs, engine 1 {engine.1.n2}, engine 2 {engine.2.n2}"}'
    assert load_text(tmp_path, _pumps("engine.*.n2 < 5 %", say)).faults == ()
    one = say.replace(", engine 2 {engine.2.n2}", "")
    assert (
        "is the same in the sentence of every match"
        in load_faults(tmp_path, _pumps("engine.*.n2 < 5 %", one))[0]
    )


@pytest.mark.parametrize(
    ("condition", "say", "inoperative", "sentences"),
    [
        ("fuel.pump.*.switch is on and lights.logo is on", '{open: "* pump {fuel.pump.*.low_pressure}", met: "* good"}',
         "fuel.pump.left_aft.low_pressure", ("", "left aft good")),
        ("any fuel.pump.*.switch is on", '{open: "pumps {fuel.pump.*.switch}, duct {bleed.duct.left}", met: good}', "bleed.duct.left", ("", "good")),
        ("any fuel.pump.*.switch is on", '{open: "pumps {fuel.pump.*.switch}"}', "fuel.pump.left_aft", ("pumps {fuel.pump.*.switch}", "")),
    ],
)  # fmt: skip
def test_an_inoperative_signal_is_not_said(
    tmp_path: Path, condition: str, say: str, inoperative: str, sentences: tuple[str, str]
) -> None:
    """A sentence with the value of an inoperative signal is not used; of several signals the others are said."""
    trip = TripSheet("t", {}, inoperative=(inoperative,))
    items = load_text(tmp_path, _pumps(condition, say), trip).items
    item = items.get("flow.before_start.pumps.left_aft") or items["flow.before_start.pumps"]
    assert (item.say.open, item.say.met) == sentences
    assert inoperative not in str(item.say.shown).replace("left_aft_", "")


def test_a_fault_in_a_condition_is_no_fault_of_its_sentence(tmp_path: Path) -> None:
    """The matches of a faulty condition are not known, so the pack still loads."""
    pack = load_text(tmp_path, _pumps("fuel.pump.*.swich is on", '{open: "* pump off", met: pumps on}'))
    assert [fault.what for fault in pack.faults] == ["no name fits fuel.pump.*.swich"]


def test_watches_and_lines_have_their_own_sentences(tmp_path: Path) -> None:
    """A watch and a line of a checklist may give them too."""
    watch = COMPLETE_PACK.replace(
        WATCH, f"    say: {{open: beacon dark, engine turning}}\n{WATCH}".replace(", ", "; ")
    )
    assert load_text(tmp_path, watch).watches[0].say == OwnSentences("beacon dark; engine turning")
    expect = "        expect: fuel.total within 150 kg of trip.block_fuel\n"
    line = replace_text(expect, f'{expect}        say: {{open: "fuel is {{fuel.total}}"}}\n')
    (found,) = [item for item in load_text(tmp_path, line).items.values() if item.label == "Fuel"]
    assert found.say.open == "fuel is {fuel.total}"


@pytest.mark.parametrize(
    ("say", "fault"),
    [
        ('{open: "heading {flight.headin}"}', "16:31: unknown signal flight.headin, expected a signal | did you mean flight.heading?"),
        ('{met: "heading {flight.heading"}', "16:29: an unmatched brace, expected {signal}"),
        ('{open: "beacon still dark."}', "16:21: 'beacon still dark.' is not one bare sentence, expected one line without a stop | it is put"),
        ('{open: ""}', "16:21: the sentence is empty, expected what the crew is to hear"),
        ("{}", "16:9: say has no sentence, expected open, met, or both; nothing after say: for no sentence"),
        ("{opened: dark}", "16:15: "),
        ("dark", "16:14: "),
    ],
)  # fmt: skip
def test_each_mistake_has_its_place(tmp_path: Path, say: str, fault: str) -> None:
    """An unknown signal, a brace, a stop, an empty sentence or another key: each has its line and column."""
    faults = load_faults(tmp_path, _item(say))
    assert len(faults) == 1
    assert faults[0].startswith(fault)


def test_a_line_that_reads_an_item_has_that_items_sentences(tmp_path: Path) -> None:
    """`say` without a condition of the line's own is refused, as every other key of an item is."""
    reads = "        items: [flow.before_start.beacon]\n"
    (fault,) = load_faults(tmp_path, replace_text(reads, f"{reads}        say: {{open: dark}}\n"))
    assert "say without a condition of the line's own" in fault


def test_an_extending_pack_replaces_the_sentences(tmp_path: Path) -> None:
    """`say` replaces that of the base as a whole; without it the base's stays; its faults are at its own file."""
    base, over = tmp_path / "base", tmp_path / "over"
    base.mkdir()
    over.mkdir()
    (base / "p.yaml").write_text(_item("{open: beacon still dark, met: beacon flashing}"), encoding="utf-8")
    flows = "flows:\n  before_start:\n    captain:\n      - beacon:\n        "
    head = f"pack: {{id: over, title: Over, extends: '{base}'}}\n"
    for text, sentences in (
        ("level: warning", OwnSentences("beacon still dark", "beacon flashing")),
        ("say: {open: no beacon}", OwnSentences("no beacon")),
    ):
        (over / "o.yaml").write_text(f"{head}{flows}{text}\n", encoding="utf-8")
        assert load_pack(str(over)).items["flow.before_start.beacon"].say == sentences
