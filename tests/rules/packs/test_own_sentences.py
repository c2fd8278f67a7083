"""Sentences of a pack's own: loading, faults with their places, and merging."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.packs.load_pack import load_pack
from rules.packs.model import OwnSentences
from tests.rules.packs.sample_packs import COMPLETE_PACK, load_faults, load_text, replace_text

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
        ('{met: "{flight.heading} is it"}', OwnSentences(met="{flight.heading} is it")),
    ],
)
def test_an_item_has_its_own_sentences(tmp_path: Path, say: str, sentences: OwnSentences) -> None:
    """An item may give a sentence for open, for met, or for both; the others have none."""
    pack = load_text(tmp_path, _item(say))
    assert pack.items["flow.before_start.beacon"].say == sentences
    assert pack.items["flow.before_start.pumps.left_aft"].say == OwnSentences()


def test_each_match_has_its_own_sentence(tmp_path: Path) -> None:
    """A `*` is the match: as read in the text, as written in the name of a signal; the rest has no such sentence."""
    say = '        say: {open: "pump * is {fuel.pump.*.switch}", met: pumps good}\n'
    text = replace_text(
        "fuel.pump.*.switch is on\n", f"fuel.pump.*.switch is on and lights.logo is on\n{say}"
    )
    items = load_text(tmp_path, text).items
    left = OwnSentences("pump left aft is {fuel.pump.left_aft.switch}", "pumps good")
    assert items["flow.before_start.pumps.left_aft"].say == left
    assert items["flow.before_start.pumps.rest"].say == OwnSentences(met="pumps good")


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
        ("{}", "16:9: say has no sentence, expected open, met, or both"),
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
