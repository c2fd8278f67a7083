"""Tests of scenario files: what is read, and what is refused, with its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from mock_sim.scenario import load_scenario
from rules.faults import InputFaults
from tests.mock_sim.fake_cockpit import KNOWN

GOOD = """\
title: A short one
trip: {flap: 5, runway: "14"}
world: {lamp: "off"}
ends: [{done: captain.second}]
seats:
  captain:
    - {key: first, set: {pump: "on", lever: trip.flap}, calls: [ready]}
    - {key: second, wait: [{call: ready}, {signal: speed, at_most: 60}], set: {runway: trip.runway}}
slips:
  - {id: none_on, kind: skip, seat: captain, sentence: Left off., signals: [pump], step: first, change: {leave: [pump]}}
demo: [none_on]
"""


def write(folder: Path, text: str) -> Path:
    """A scenario file."""
    path = folder / "short.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def test_every_part_of_a_scenario_is_read(tmp_path: Path) -> None:
    """Every part of a scenario is read, and trip values are resolved."""
    scenario = load_scenario(write(tmp_path, GOOD), KNOWN)
    assert scenario.title == "A short one"
    assert [step.key for step in scenario.seats["captain"]] == ["first", "second"]
    assert scenario.value("trip.flap") == 5.0
    assert scenario.value("on") == "on"
    assert [slip.id for slip in scenario.slips] == ["none_on"]


def test_the_files_of_a_folder_are_one_scenario(tmp_path: Path) -> None:
    """A seat's steps may be in another file than the title."""
    (tmp_path / "a.yaml").write_text(
        "title: Two\nends: [{done: captain.one}, {done: ground.two}]\n", encoding="utf-8"
    )
    (tmp_path / "b.yaml").write_text(
        "seats: {captain: [{key: one}], ground: [{key: two}]}\n", encoding="utf-8"
    )
    assert set(load_scenario(tmp_path, KNOWN).seats) == {"captain", "ground"}


@pytest.mark.parametrize(
    ("old", "new", "fault_text"),
    [
        ("pump: ", "pmup: ", "unknown control pmup | did you mean pump?"),
        ('pump: "on"', "pump: broken", "unknown word of pump broken | off or on"),
        ("lever: trip.flap", "lever: trip.flaps", "unknown entry of the trip flaps | did you mean flap?"),
        ("flap: 5", "flap: 50", "50 for lever | 0 to 40 deg"),
        ("at_most: 60", "at_most: fast", "'fast' for speed | a number in kt"),
        (
            "signal: speed, at_most: 60",
            "signal: sped, at_most: 60",
            "unknown signal sped | did you mean speed?",
        ),
        (
            "signal: speed, at_most: 60",
            "signal: speed",
            "a comparison without a signal, or a signal without a comparison | at_least",
        ),
        ("{call: ready}", "{call: redy}", "unknown call that a seat makes redy | did you mean ready?"),
        ("{call: ready}", "{call: ready, seconds: 2}", "a wait needs exactly one subject | one of signal"),
        (
            "done: captain.second",
            "done: captain.secnd",
            "unknown step captain.secnd | did you mean captain.second?",
        ),
        ("  captain:", "  capitan:", "unknown seat capitan | did you mean captain?"),
        ("step: first", "step: frist", "unknown step captain.frist | did you mean captain.first?"),
        ("leave: [pump]", "leave: [lamp]", "unknown control of this step lamp | lever or pump"),
        ("{leave: [pump]}", "{}", "slip none_on changes nothing | omit, leave"),
        ("kind: skip", "kind: slip", "'slip' | skip, too_early, undo"),
        ("demo: [none_on]", "demo: [non_on]", "unknown slip non_on | did you mean none_on?"),
        ("key: second", "key: first", "step captain.first is defined twice | see short.yaml:7"),
        ("title: A short one\n", "", "title is missing | the key title"),
        ("key: second,", "key: second, takes: 3,", "unknown key takes | did you mean takes_s?"),
        ("key: second,", "key: second, takes_s: -3,", "-3 is out of range | 0 or more"),
    ],
)
def test_a_fault_gives_what_is_wrong_and_what_was_expected(
    tmp_path: Path, old: str, new: str, fault_text: str
) -> None:
    """Each kind of mistake gives a fault in the file, with what is wrong and what would be right."""
    assert old in GOOD
    with pytest.raises(InputFaults) as caught:
        load_scenario(write(tmp_path, GOOD.replace(old, new, 1)), KNOWN)
    what, right = fault_text.split(" | ")
    matching = [fault for fault in caught.value.faults if fault.what == what]
    assert matching, str(caught.value)
    assert right in f"{matching[0].expected} {matching[0].hint}"
    assert "short.yaml" in str(matching[0].place)


def test_faults_are_placed_and_reported_together(tmp_path: Path) -> None:
    """Two mistakes give two faults, each with its own line."""
    text = GOOD.replace('pump: "on"', "pump: open").replace("{call: ready}", "{call: redy}")
    with pytest.raises(InputFaults) as caught:
        load_scenario(write(tmp_path, text), KNOWN)
    assert [fault.place.line for fault in caught.value.faults] == [7, 8]


def test_a_word_cannot_be_reached_slowly(tmp_path: Path) -> None:
    """A movement over time needs a number to go to."""
    text = GOOD.replace('set: {pump: "on",', 'move: [{signal: pump, to: "on", over_s: 2}], set: {')
    text = text.replace("leave: [pump]", "omit: true")
    with pytest.raises(InputFaults, match="moves at once"):
        load_scenario(write(tmp_path, text), KNOWN)


def test_an_unknown_scenario_gives_the_nearest() -> None:
    """A misspelt scenario is answered with the nearest name."""
    with pytest.raises(InputFaults, match="did you mean departure"):
        load_scenario("depature", KNOWN)
