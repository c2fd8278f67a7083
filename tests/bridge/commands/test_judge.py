"""Tests of `holdshort judge`: one gate on a static state, exit codes and JSON."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from rules.packs.load_pack import SHIPPED_DIR, load_pack
from rules.packs.trip_sheet import load_trip_sheet
from tests.bridge.builders import PACK, write_pack
from tests.bridge.commands.conftest import write_state
from tests.bridge.conftest import Command, CommandResult

TRIP = SHIPPED_DIR / "twin_jet" / "trip_demo.yaml"
OF_SHEET = ("trip.", "figure.")
"""Signals that the trip sheet may give: its values, and figures that are calculated from them."""


def judge_file(command: Command, path: Path, *more: str, gate: str = "push_back") -> CommandResult:
    """Judge a file at a gate of the twin jet."""
    return command("judge", path, "--pack", "twin_jet", "--trip", TRIP, "--gate", gate, *more)


def test_a_correct_state_is_clear(command: Command, tmp_path: Path, ready: dict[str, Any]) -> None:
    """The mock aeroplane of a correct crew is clear just before the push back: exit code 0."""
    result = judge_file(command, write_state(tmp_path, ready))
    assert result.code == 0
    assert re.match(r"Push back: 0 open, (\d+) of \1 judged, \1 met, 0 waived\n", result.out)
    assert "For flight simulation only." in result.out


def test_an_open_item_is_printed_with_its_reason(
    command: Command, tmp_path: Path, ready: dict[str, Any]
) -> None:
    """A wrong state is open: exit code 1, with level, seat and reason."""
    result = judge_file(command, write_state(tmp_path, ready, door__hold__2="open"))
    assert result.code == 1
    assert "CAUTION Captain hold 2 door is open" in result.out
    assert max(map(len, result.out.splitlines())) <= 80


def test_the_json_has_the_signals_of_an_open_item(
    command: Command, tmp_path: Path, ready: dict[str, Any]
) -> None:
    """With `--json` one object has the open items, as text and as numbers."""
    path = write_state(tmp_path, ready, controls__stabiliser_trim=4.2)
    result = judge_file(command, path, "--json")
    output = json.loads(result.out)
    assert result.code == 1
    assert set(output) == {
        "needs",
        "judged",
        "gate",
        "title",
        "clear",
        "open",
        "no_data",
        "met",
        "waived",
        "faults",
        "disclaimer",
    }
    assert (output["gate"], output["clear"], output["no_data"], output["faults"]) == (
        "push_back",
        False,
        [],
        [],
    )
    item = output["open"][0]
    assert set(item) == {
        "item", "label", "seat", "level", "status", "verdict", "sentence", "actual", "wanted", "why", "signals",
    }  # fmt: skip
    assert (item["actual"], item["verdict"], item["status"]) == ("4.2 deg", "unmet", "open")
    assert item["signals"]["controls.stabiliser_trim"] == {"value": 4.2, "unit": "deg", "quality": "fresh"}
    assert item["signals"]["trip.stabiliser_trim"]["value"] == 5.2


def test_an_empty_file_is_not_clear(command: Command, tmp_path: Path) -> None:
    """In an empty file every item that does not read the trip sheet lacks data; only the others may be met."""
    path = tmp_path / "empty.json"
    path.write_text("{}", encoding="utf-8")
    output = json.loads(judge_file(command, path, "--json").out)
    assert output["clear"] is False
    pack = load_pack("twin_jet", trip=load_trip_sheet(TRIP))
    (needs,) = [gate.needs for gate in pack.gates if gate.id == "push_back"]
    of_aeroplane = {
        need for need in needs if not any(name.startswith(OF_SHEET) for name in pack.items[need].signals)
    }
    no_data = {item["item"] for item in output["no_data"]}
    assert len(of_aeroplane) > 50
    assert of_aeroplane <= no_data
    assert output["open"] == []
    assert output["met"] == len(set(needs) - no_data)


def test_a_missing_call_is_open(command: Command, tmp_path: Path, ready: dict[str, Any]) -> None:
    """An item that needs a call is open without it."""
    calls = [call for call in ready["calls"] if call != "atc_clearance"]
    result = judge_file(command, write_state(tmp_path, ready | {"calls": calls}))
    assert result.code == 1
    assert "no departure clearance yet" in result.out


@pytest.mark.parametrize(
    ("text", "gate", "expected"),
    [
        ("{}", "push_bakc", "did you mean push_back?"),
        ('{"fuel.total": NaN}', "push_back", "state.json:1:16"),
        ('{"signals": {', "push_back", "state.json:1:14"),
        ('{"lights.beacn": "on"}', "push_back", "did you mean lights.beacon?"),
    ],
)
def test_bad_input_ends_with_2(command: Command, tmp_path: Path, text: str, gate: str, expected: str) -> None:
    """An unknown gate, an invalid number, cut JSON and an unknown signal are reported: exit code 2, nothing judged."""
    path = tmp_path / "state.json"
    path.write_text(text, encoding="utf-8")
    result = judge_file(command, path, gate=gate)
    assert (result.code, result.out) == (2, "")
    assert expected in result.err


def test_missing_files_and_packs_end_with_2(command: Command, tmp_path: Path) -> None:
    """A missing state, trip sheet or pack is named: exit code 2."""
    state = tmp_path / "state.json"
    state.write_text("{}", encoding="utf-8")
    for path, pack, trip in (
        (tmp_path / "none.json", "twin_jet", TRIP),
        (state, "twin_jte", TRIP),
        (state, "twin_jet", tmp_path / "none.yaml"),
    ):
        result = command("judge", path, "--pack", pack, "--trip", trip, "--gate", "push_back")
        assert result.code == 2
        assert "no such file" in result.err or "unknown pack" in result.err


def test_a_broken_condition_is_reported_and_the_others_are_judged(command: Command, tmp_path: Path) -> None:
    """A broken condition counts as without data, its fault is printed, and the other needs are judged."""
    broken = write_pack(tmp_path / "broken", PACK.replace("lights.beacon is on", "lights.beacn is on"))
    trip = tmp_path / "trip.yaml"
    trip.write_text("trip: {title: Lindmere 417}\n", encoding="utf-8")
    state = tmp_path / "state.json"
    state.write_text('{"hydraulics.1.pressure": 3000}', encoding="utf-8")
    result = command("judge", state, "--pack", broken, "--trip", trip, "--gate", "push", "--json")
    output = json.loads(result.out)
    assert result.code == 1
    assert [item["item"] for item in output["no_data"]] == ["flow.before.beacon"]
    assert output["met"] == 1
    assert "did you mean lights.beacon?" in output["faults"][0]
    assert "did you mean lights.beacon?" in result.err


SMALL = PACK.replace("[flow before]", "[flow before, checklist before]").replace(
    "calls: {", "calls: {briefed: {title: briefed, by: captain}, "
)
RULES = f"""{SMALL}
watches:
  beacon:
    label: Beacon
    seat: captain
    expect: lights.beacon is on
    say: {{open: beacon dark}}
  logo: {{label: Logo, seat: captain, applies: lights.beacon is on, expect: lights.logo is on}}
checklists:
  before:
    title: Before
    read_by: captain
    lines:
      - {{logo: Logo, answer: "{{lights.logo}}", expect: lights.logo is on}}
      - {{briefing: Briefing, answer: given, expect: call.briefed by captain happened}}
"""


def _judge_rules(command: Command, folder: Path, state: str, *more: str) -> CommandResult:
    """Judge a state by the small pack with two watches and a checklist."""
    (folder / "trip.yaml").write_text("trip: {title: Lindmere 417}\n", encoding="utf-8")
    (folder / "state.json").write_text(state, encoding="utf-8")
    pack, trip = write_pack(folder / "rules", RULES), folder / "trip.yaml"
    return command("judge", folder / "state.json", "--pack", pack, "--trip", trip, "--gate", "push", *more)


@pytest.mark.parametrize(
    ("call", "status"), [('{"briefed": "captain"}', "met"), ('{"briefed": "first_officer"}', "no data"), ('"briefed"', "no data")]
)  # fmt: skip
def test_a_call_is_made_by_somebody(command: Command, tmp_path: Path, call: str, status: str) -> None:
    """Who made a call decides where a condition asks for it; of others nothing is known before a single state."""
    state = f'{{"signals": {{"lights.logo": "on"}}, "calls": [{call}]}}'
    output = json.loads(_judge_rules(command, tmp_path, state, "--checklist", "before", "--json").out)
    (checklist,) = output["checklists"]
    assert [line["answer"] for line in checklist["lines"]] == ["on", "given"]
    assert checklist["lines"][1]["status"] == status


def test_watches_and_answers_are_shown(command: Command, tmp_path: Path) -> None:
    """Each watch has its status and sentence, and each line its answer and why it is open."""
    state = '{"lights.beacon": "off", "lights.logo": "off"}'
    result = _judge_rules(command, tmp_path, state, "--watches", "--checklist", "before")
    assert re.search(r"CAUTION +Captain +Beacon: beacon dark", result.out)
    assert re.search(r"does not apply +Captain +Logo *\n", result.out)
    assert re.search(r"open +Logo +logo lights? (is|are) off", result.out), result.out
    output = json.loads(_judge_rules(command, tmp_path, state, "--watches", "--json").out)
    assert [watch["status"] for watch in output["watches"]] == ["does not hold", "does not apply"]
    assert "checklists" not in output


def test_an_unknown_checklist_ends_with_2(command: Command, tmp_path: Path) -> None:
    """A checklist that the pack does not have is named, with a hint."""
    result = _judge_rules(command, tmp_path, "{}", "--checklist", "befor")
    assert (result.code, result.out) == (2, "")
    assert "did you mean before?" in result.err
