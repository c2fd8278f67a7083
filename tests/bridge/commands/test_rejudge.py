"""Tests of `holdshort rejudge`: exit codes, differences, and JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rules.packs.model import Pack
from tests.bridge.builders import PACK, write_pack
from tests.bridge.conftest import Command
from tests.bridge.rejudge.recorded_flights import record_everything


@pytest.fixture(scope="module")
def recording(pack: Pack, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A recording of the small pack."""
    return record_everything(pack, tmp_path_factory.mktemp("kept"))


def test_the_same_rules_say_the_same(command: Command, recording: Path, tmp_path: Path) -> None:
    """Exit code 0, and one sentence."""
    ended = command("rejudge", recording, "--pack", write_pack(tmp_path / "small"))
    assert ended.code == 0
    assert "Every event is the same to the byte." in ended.out
    assert ": the same rules" in ended.out
    assert "For flight simulation only." in ended.out


def test_other_rules_are_listed(command: Command, recording: Path, tmp_path: Path) -> None:
    """Exit code 1, and a line for each finding and notice that is new, gone or different."""
    text = PACK.replace("2800..3200 psi", "2800..3000 psi").replace("level: caution", "level: advisory")
    ended = command("rejudge", recording, "--pack", write_pack(tmp_path / "other", text))
    assert ended.code == 1
    assert ": not the same rules" in ended.out
    assert "different finding  beacon is off, needs on" in ended.out
    assert "level caution -> advisory" in ended.out
    assert "needs 2 800 to 3 000" in ended.out
    assert "verdict/changed: " in ended.out


def test_the_json_has_all_of_it(command: Command, recording: Path, tmp_path: Path) -> None:
    """With --json one object has the differences, field by field."""
    text = PACK.replace("level: caution", "level: advisory")
    ended = command("rejudge", recording, "--pack", write_pack(tmp_path / "other", text), "--json")
    said = json.loads(ended.out)
    assert ended.code == 1
    assert not said["same"]
    assert said["recorded_with"]["digest"] != said["judged_with"]["digest"]
    assert said["frames"] > 400
    level = [other for other in said["differences"] if other["kind"] == "finding"]
    assert {other["difference"] for other in level} == {"different"}
    assert all("level" in other["fields"] for other in level)
    assert level[0]["before"]["level"] == "caution"
    assert said["fault"] is None


def test_other_papers(command: Command, recording: Path, tmp_path: Path) -> None:
    """A sheet that dispatches the beacon inoperative takes its findings away."""
    sheet = tmp_path / "sheet.yaml"
    sheet.write_text("trip: {title: Another, inoperative: [lights.beacon], values: {}}", encoding="utf-8")
    ended = command("rejudge", recording, "--pack", write_pack(tmp_path / "small"), "--trip", sheet)
    assert ended.code == 1
    assert "gone      finding  beacon is off, needs on" in ended.out


def test_no_recording_is_bad_input(command: Command, tmp_path: Path) -> None:
    """Exit code 2, with the fault."""
    path = tmp_path / "no.mcap"
    path.write_bytes(b"something else entirely")
    ended = command("rejudge", path, "--pack", write_pack(tmp_path / "small"))
    assert ended.code == 2
    assert "no MCAP file" in ended.err


def test_a_recording_that_breaks_off_is_said(command: Command, recording: Path, tmp_path: Path) -> None:
    """The readable part is judged; the fault is printed on standard error."""
    cut = tmp_path / "cut.mcap"
    cut.write_bytes(recording.read_bytes()[:-900])
    ended = command("rejudge", cut, "--pack", write_pack(tmp_path / "small"))
    assert ended.code in (0, 1)
    assert "the recording ends early at byte" in ended.err
