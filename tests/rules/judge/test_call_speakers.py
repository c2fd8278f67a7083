"""Tests whose calls are judged: those of a speaker who enters them by the trip sheet, or who enters them regularly."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rules.judge.events import ItemStatus
from rules.judge.judge import Judge
from rules.packs.model import Call
from tests.rules.judge.scripted_flight import FixedTripValues, PackBuilder, ScriptedFlight, called, item, push

CALLS = {
    name: Call(name, name, by)
    for name, by in (
        ("ready", "captain"),
        ("briefed", "captain"),
        ("doors", "captain"),
        ("lights", "captain"),
        ("papers", "first_officer"),
        ("tower", "atc"),
    )
}
ITEMS = [item(name, called(name)) for name in CALLS if name != "ready"]


def flight(calls: tuple[str, ...] | None) -> ScriptedFlight:
    """A flight of a pack whose items each wait for a call; the trip sheet says whose are entered."""
    rules = PackBuilder(ITEMS, gates=[push([each.id for each in ITEMS])])
    flown = ScriptedFlight(rules)
    flown.judge = Judge(replace(rules.pack(), calls=CALLS), FixedTripValues({}, calls))
    flown.send_frame(0)
    return flown


def missed(flown: ScriptedFlight) -> set[str]:
    """Calls that are found not to have been made."""
    return {finding.item.rsplit(".", 1)[1] for finding in flown.judge.findings}


def enter(flown: ScriptedFlight, *calls: str) -> ScriptedFlight:
    """Enter calls, each a second after the one before, and let the hold of the others pass."""
    for call in calls:
        flown.send_frame(flown.judge.sim_s + 1)
        flown.call(call)
    flown.send_frame(flown.judge.sim_s + 5)
    return flown


@pytest.mark.parametrize(
    ("declared", "entered", "expected"),
    [
        (None, ["ready"], set()),
        (None, ["papers", "ready"], set()),
        (None, ["briefed", "doors", "ready"], {"lights"}),
        (None, ["papers", "papers", "papers", "ready"], set()),
        ((), ["briefed", "doors", "ready"], set()),
        (("captain",), ["ready"], {"briefed", "doors", "lights"}),
        (("captain",), ["tower", "papers", "briefed", "ready"], {"doors", "lights"}),
        (("first_officer", "atc"), ["ready"], {"papers", "tower"}),
        (("all",), ["ready"], {"briefed", "doors", "lights", "papers", "tower"}),
    ],
)
def test_a_missing_call_is_told_of_a_speaker_whose_calls_are_entered(
    declared: tuple[str, ...] | None, entered: list[str], expected: set[str]
) -> None:
    """Of nobody else: one or two calls do not make all others omitted."""
    assert missed(enter(flight(declared), *entered)) == expected


def test_undoing_a_call_can_make_the_others_of_its_speaker_unknown() -> None:
    """Two calls that are left no longer show that the captain enters his."""
    flown = enter(flight(None), "briefed", "doors", "ready")
    assert flown.judge.snapshot().items["flow.before.lights"].status is ItemStatus.OPEN
    flown.judge.undo_call("doors")
    items = flown.judge.snapshot().items
    assert items["flow.before.lights"].status is not ItemStatus.OPEN
    assert items["flow.before.doors"].status is not ItemStatus.OPEN
    assert items["flow.before.briefed"].status is ItemStatus.MET
