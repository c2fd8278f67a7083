"""Tests of events: detours of seats, other trip values and ends; and of scenarios that extend others."""

from __future__ import annotations

from pathlib import Path

import pytest

from mock_sim.scenario import Scenario, choose_events, load_scenario, with_events
from rules.faults import InputFaults
from tests.mock_sim.fake_cockpit import KNOWN

TEXT = """\
title: With an event
trip: {flap: 5}
world: {lamp: "off"}
ends: [{done: captain.c}]
seats:
  captain: [{key: a}, {key: b}, {key: c}, {key: d}]
events:
  - id: turn_back
    sentence: They turn back.
    world: {pump: "on"}
    trip: {flap: 10}
    ends: [{done: captain.x}]
    seats: {captain: [DETOUR], ground: [{steps: [{key: wave, calls: [back]}]}]}
"""


def read(folder: Path, detour: str) -> Scenario:
    """The scenario with one detour of the captain."""
    path = folder / "short.yaml"
    path.write_text(TEXT.replace("DETOUR", detour), encoding="utf-8")
    return load_scenario(path, KNOWN)


@pytest.mark.parametrize(
    ("detour", "keys"),
    [
        ("{after: b, steps: [{key: x}]}", "a b x c d"),
        ("{after: a, to: d, steps: [{key: x}]}", "a x d"),
        ("{after: c, to: b, steps: [{key: x}]}", "a b c x b c d"),
        ("{after: a, last: true, steps: [{key: x}]}", "a x"),
        ("{steps: [{key: x}]}", "x a b c d"),
        ("{steps: [{key: x}], to: c}", "x c d"),
    ],
)
def test_a_detour_leads_away_and_back(tmp_path: Path, detour: str, keys: str) -> None:
    """Steps come after one and before another; the steps between are left out, and going back repeats steps."""
    scenario = read(tmp_path, detour)
    changed = with_events(scenario, choose_events(scenario, ["turn_back"]))
    assert " ".join(step.key for step in changed.seats["captain"]) == keys
    assert [step.key for step in changed.seats["ground"]] == ["wave"]


def test_an_event_has_its_own_world_trip_and_end(tmp_path: Path) -> None:
    """They take precedence over the scenario's own; without the event nothing has changed."""
    scenario = read(tmp_path, "{after: b, steps: [{key: x}]}")
    changed = with_events(scenario, choose_events(scenario, ["turn_back"]))
    assert (changed.world, changed.trip) == ({"lamp": "off", "pump": "on"}, {"flap": 10.0})
    assert [wait.done for wait in changed.ends] == ["captain.x"]
    assert [wait.done for wait in scenario.ends] == ["captain.c"]


@pytest.mark.parametrize(
    ("detour", "message"),
    [
        ("{after: bb, steps: [{key: x}]}", "unknown step captain.bb"),
        ("{after: b, to: e, steps: [{key: x}]}", "unknown step captain.e"),
        ('{after: b, steps: [{key: x, set: {pmup: "on"}}]}', "unknown control pmup"),
        ("{after: b, steps: [{key: x, wait: [{call: bakc}]}]}", "unknown call that a seat makes bakc"),
        ("{after: b, steps: [{key: x, fly: {heading_deg: trip.wind}}]}", "unknown entry of the trip wind"),
    ],
)
def test_an_impossible_detour_is_refused(tmp_path: Path, detour: str, message: str) -> None:
    """Unknown steps, controls and calls are each reported."""
    with pytest.raises(InputFaults) as wrong:
        read(tmp_path, detour)
    assert message in str(wrong.value)


def test_another_scenario_can_be_extended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The steps of the base come first, with its trip and slips; title, end and demo are those of the extending scenario."""
    monkeypatch.setattr("mock_sim.scenario.load.SCENARIOS", tmp_path)
    slip = "{id: s, kind: skip, seat: captain, sentence: S., signals: [], step: a, change: {omit: true}}"
    base = f"title: Base\ntrip: {{flap: 5}}\nends: [{{done: captain.a}}]\nseats: {{captain: [{{key: a}}]}}\nslips: [{slip}]\ndemo: [s]\n"
    more = "extends: base\ntitle: More\nends: [{done: captain.b}]\nseats: {captain: [{key: b, wait: [{done: captain.a}]}]}\n"
    for name, text in (("base", base), ("more", more)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "scenario.yaml").write_text(text, encoding="utf-8")
    scenario = load_scenario("more", KNOWN)
    assert (scenario.title, scenario.demo, scenario.trip) == ("More", (), {"flap": 5.0})
    assert [step.key for step in scenario.seats["captain"]] == ["a", "b"]
    assert [wait.done for wait in scenario.ends] == ["captain.b"]
    assert [slip.id for slip in scenario.slips] == ["s"]
