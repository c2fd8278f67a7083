"""Tests of `holdshort rejudge`: exit codes, differences, and JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from rules.packs.model import Pack
from tests.bridge.builders import PACK, write_pack
from tests.bridge.conftest import Command
from tests.bridge.recording.builders import RecordedDevice
from tests.bridge.rejudge.recorded_flights import record_everything


@pytest.fixture(scope="module")
def recording(pack: Pack, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Record the small pack."""
    return record_everything(pack, tmp_path_factory.mktemp("kept"))


def test_the_same_rules_give_no_difference(command: Command, recording: Path, tmp_path: Path) -> None:
    """The same rules give exit code 0 and one sentence."""
    result = command("rejudge", recording, "--pack", write_pack(tmp_path / "small"))
    assert result.code == 0
    assert "Every event is the same to the byte." in result.out
    assert ": the same rules" in result.out
    assert "For flight simulation only." in result.out


def test_differences_of_other_rules_are_listed(command: Command, recording: Path, tmp_path: Path) -> None:
    """Other rules give exit code 1, and a line for each finding and notice that is new, missing or different."""
    text = PACK.replace("2800..3200 psi", "2800..3000 psi").replace("level: caution", "level: advisory")
    result = command("rejudge", recording, "--pack", write_pack(tmp_path / "other", text))
    assert result.code == 1
    assert ": not the same rules" in result.out
    assert "different finding  beacon is off" in result.out
    assert "level caution -> advisory" in result.out
    assert "needs 2 800 to 3 000" in result.out
    assert "verdict/changed: " in result.out


def test_the_json_has_all_differences(command: Command, recording: Path, tmp_path: Path) -> None:
    """With --json one object has the differences, field by field."""
    text = PACK.replace("level: caution", "level: advisory")
    result = command("rejudge", recording, "--pack", write_pack(tmp_path / "other", text), "--json")
    output = json.loads(result.out)
    assert result.code == 1
    assert not output["same"]
    assert output["recorded_with"]["digest"] != output["judged_with"]["digest"]
    assert output["frames"] > 400
    level = [other for other in output["differences"] if other["kind"] == "finding"]
    assert {other["difference"] for other in level} == {"different"}
    assert all("level" in other["fields"] for other in level)
    assert level[0]["before"]["level"] == "caution"
    assert output["fault"] is None


def test_another_trip_sheet_is_used(command: Command, recording: Path, tmp_path: Path) -> None:
    """A sheet that dispatches the beacon inoperative removes its findings."""
    trip_sheet = tmp_path / "sheet.yaml"
    trip_sheet.write_text(
        "trip: {title: Another, inoperative: [lights.beacon], values: {}}", encoding="utf-8"
    )
    result = command("rejudge", recording, "--pack", write_pack(tmp_path / "small"), "--trip", trip_sheet)
    assert result.code == 1
    assert "gone      finding  beacon is off" in result.out


def test_a_file_that_is_no_recording_is_refused(command: Command, tmp_path: Path) -> None:
    """A file that is no recording gives exit code 2, with the fault."""
    path = tmp_path / "no.mcap"
    path.write_bytes(b"something else entirely")
    result = command("rejudge", path, "--pack", write_pack(tmp_path / "small"))
    assert result.code == 2
    assert "no MCAP file" in result.err


def test_a_running_session_is_judged_so_far(command: Command, pack: Pack, tmp_path: Path) -> None:
    """A recording that is being written is judged so far, and no damage is reported; after the end nothing is."""
    recorded = RecordedDevice(pack, tmp_path)
    recorded.fly(5)
    path, rules = recorded.read().paths[0], write_pack(tmp_path / "small")
    running = command("rejudge", path, "--pack", rules)
    assert "the session still runs: this is what was recorded so far" in running.err
    assert "ends early" not in running.err
    recorded.request("end")
    recorded.wait(1.0)
    recorded.recorder.write_queued()
    recorded.wait(1.0)
    recorded.recorder.write_queued()
    assert command("rejudge", path, "--pack", rules).err == ""
    recorded.recorder.finish()


def test_a_cut_recording_is_judged_and_reported(command: Command, recording: Path, tmp_path: Path) -> None:
    """The readable part is judged; the fault is printed on standard error."""
    cut = tmp_path / "cut.mcap"
    cut.write_bytes(recording.read_bytes()[:-900])
    result = command("rejudge", cut, "--pack", write_pack(tmp_path / "small"))
    assert result.code in (0, 1)
    assert "the recording ends early at byte" in result.err


def test_a_pack_of_ones_own_must_be_given(command: Command, recording: Path) -> None:
    """A recording of a pack that we do not ship says that its folder is needed: exit code 2."""
    result = command("rejudge", recording)
    assert (result.code, result.out) == (2, "")
    assert "is not one that we ship, expected the folder of that pack" in result.err
    assert "hint: give it with --pack" in result.err
