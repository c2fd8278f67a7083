"""Tests of `holdshort judge`: a gate on a still picture, its exit codes and its JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from rules.packs.inheritance import SHIPPED_DIR
from tests.bridge.builders import PACK, write_pack
from tests.bridge.commands.conftest import write_state
from tests.bridge.conftest import Command, CommandResult

TRIP = SHIPPED_DIR / "twin_jet" / "trip_demo.yaml"


def judged(command: Command, path: Path, *more: str, gate: str = "push_back") -> CommandResult:
    """Judge a file at a gate of the twin jet."""
    return command("judge", path, "--pack", "twin_jet", "--trip", TRIP, "--gate", gate, *more)


def test_a_clean_state_is_clear(command: Command, tmp_path: Path, ready: dict[str, Any]) -> None:
    """The mock aeroplane just before the push back, made ready by its crew, is clear: exit code 0."""
    ended = judged(command, write_state(tmp_path, ready))
    assert ended.code == 0
    assert ended.out.startswith("Push back: 0 open, 0 without data, ")
    assert "For flight simulation only." in ended.out


def test_what_is_open_is_said_with_its_reason(
    command: Command, tmp_path: Path, ready: dict[str, Any]
) -> None:
    """A wrong state is open: exit code 1, with level, seat, and what is wrong."""
    ended = judged(command, write_state(tmp_path, ready, door__hold__2="open"))
    assert ended.code == 1
    assert "CAUTION Captain hold 2 door is open, needs closed" in ended.out
    assert max(map(len, ended.out.splitlines())) <= 80


def test_the_json_has_the_values_behind_an_open_item(
    command: Command, tmp_path: Path, ready: dict[str, Any]
) -> None:
    """With --json one object has the open items, as text and in numbers."""
    path = write_state(tmp_path, ready, controls__stabiliser_trim=4.2)
    ended = judged(command, path, "--json")
    said = json.loads(ended.out)
    assert ended.code == 1
    assert set(said) == {"gate", "title", "clear", "open", "no_data", "met", "waived", "faults", "caution"}
    assert (said["gate"], said["clear"], said["no_data"], said["faults"]) == ("push_back", False, [], [])
    item = said["open"][0]
    assert set(item) == {
        "item", "label", "seat", "level", "status", "verdict", "sentence", "actual", "wanted", "why", "signals",
    }  # fmt: skip
    assert (item["actual"], item["verdict"], item["status"]) == ("4.2 deg", "unmet", "open")
    assert item["signals"]["controls.stabiliser_trim"] == {"value": 4.2, "unit": "deg", "quality": "fresh"}
    assert item["signals"]["trip.stabiliser_trim"]["value"] == 5.2


def test_nothing_said_is_not_clear(command: Command, tmp_path: Path) -> None:
    """An empty file is not clear: all that the aeroplane has to show lacks data (the papers may agree among themselves)."""
    path = tmp_path / "empty.json"
    path.write_text("{}", encoding="utf-8")
    said = json.loads(judged(command, path, "--json").out)
    assert said["clear"] is False
    assert len(said["no_data"]) > 50
    assert said["met"] < 10


def test_a_call_that_was_not_made_is_open(command: Command, tmp_path: Path, ready: dict[str, Any]) -> None:
    """What only a call can show is open without it."""
    calls = [call for call in ready["calls"] if call != "atc_clearance"]
    ended = judged(command, write_state(tmp_path, ready | {"calls": calls}))
    assert ended.code == 1
    assert "has not been called" in ended.out


@pytest.mark.parametrize(
    ("text", "gate", "said"),
    [
        ("{}", "push_bakc", "did you mean push_back?"),
        ('{"fuel.total": NaN}', "push_back", "state.json:1:16"),
        ('{"signals": {', "push_back", "state.json:1:14"),
        ('{"lights.beacn": "on"}', "push_back", "did you mean lights.beacon?"),
    ],
)
def test_bad_input_ends_with_2(command: Command, tmp_path: Path, text: str, gate: str, said: str) -> None:
    """A wrong gate, a value that is none, torn JSON and an unknown signal are told: exit code 2, nothing judged."""
    path = tmp_path / "state.json"
    path.write_text(text, encoding="utf-8")
    ended = judged(command, path, gate=gate)
    assert (ended.code, ended.out) == (2, "")
    assert said in ended.err


def test_missing_files_and_packs_end_with_2(command: Command, tmp_path: Path) -> None:
    """A state, trip sheet or pack that is not there is named: exit code 2."""
    state = tmp_path / "state.json"
    state.write_text("{}", encoding="utf-8")
    for path, pack, trip in (
        (tmp_path / "none.json", "twin_jet", TRIP),
        (state, "twin_jte", TRIP),
        (state, "twin_jet", tmp_path / "none.yaml"),
    ):
        ended = command("judge", path, "--pack", pack, "--trip", trip, "--gate", "push_back")
        assert ended.code == 2
        assert "no such file" in ended.err or "unknown pack" in ended.err


def test_a_broken_condition_is_told_and_the_rest_is_judged(command: Command, tmp_path: Path) -> None:
    """A broken condition counts as without data, its fault is printed, and the other needs are judged."""
    broken = write_pack(tmp_path / "broken", PACK.replace("lights.beacon is on", "lights.beacn is on"))
    trip = tmp_path / "trip.yaml"
    trip.write_text("trip: {title: Lindmere 417}\n", encoding="utf-8")
    state = tmp_path / "state.json"
    state.write_text('{"hydraulics.1.pressure": 3000}', encoding="utf-8")
    ended = command("judge", state, "--pack", broken, "--trip", trip, "--gate", "push", "--json")
    said = json.loads(ended.out)
    assert ended.code == 1
    assert [item["item"] for item in said["no_data"]] == ["flow.before.beacon"]
    assert said["met"] == 1
    assert "did you mean lights.beacon?" in said["faults"][0]
    assert "did you mean lights.beacon?" in ended.err
