"""Tests of `holdshort debrief`."""

from __future__ import annotations

import json
from pathlib import Path

from bridge.debrief.from_store import RECORDING_NOT_FOUND
from bridge.recording.recording_budget import list_recordings
from bridge.runtime.data_dir import DataDir
from rules.packs.model import Pack
from tests.bridge.builders import write_pack
from tests.bridge.conftest import Command
from tests.bridge.debrief.recorded_flight import recorded_flight
from tests.bridge.privacy.two_sessions import record_two_sessions


def test_the_last_session_is_debriefed(command: Command, tmp_path: Path) -> None:
    """The page, the tables and the samples are written, and the summary is printed."""
    recorded_flight(tmp_path / "keep" / "recordings", until_s=80.0)
    out = tmp_path / "out"
    result = command(
        "debrief", "--data-dir", tmp_path / "keep", "--to", out, "--data", "--samples", "--no-pdf"
    )
    assert (result.code, result.err) == (0, "")
    assert "Heron as captain" in " ".join(result.out.split())
    assert "For flight simulation only" in result.out
    names = {path.name for path in out.iterdir()}
    assert {
        "debrief.html",
        "session.json",
        "findings.csv",
        "flows.parquet",
        "samples.parquet",
        "samples.csv",
    } <= names
    assert "debrief.pdf" not in names


def test_a_recording_outside_the_data_folder_is_debriefed(command: Command, tmp_path: Path) -> None:
    """A path to a recording is enough, in any folder."""
    path = recorded_flight(tmp_path, until_s=30.0)
    result = command("debrief", path, "--to", tmp_path / "out", "--no-pdf", "--data-dir", "off")
    assert result.code == 0
    assert (tmp_path / "out" / "debrief.html").stat().st_size > 10_000


def test_an_unknown_session_is_refused(command: Command, tmp_path: Path) -> None:
    """An unknown session is bad input, and nothing is written."""
    result = command("debrief", "nobody", "--data-dir", tmp_path, "--to", tmp_path / "out")
    assert result.code == 2
    assert "no session is stored yet" in result.err
    assert not (tmp_path / "out").exists()


def test_an_output_folder_that_cannot_be_created_is_refused(command: Command, tmp_path: Path) -> None:
    """An output folder that cannot be created is bad input, with a hint."""
    recorded_flight(tmp_path / "keep" / "recordings", until_s=30.0)
    (tmp_path / "file").write_text("in the way")
    result = command("debrief", "--data-dir", tmp_path / "keep", "--to", tmp_path / "file" / "out")
    assert result.code == 2
    assert "name another with --to" in result.err
    assert len(list_recordings(tmp_path / "keep" / "recordings")) == 1


def test_a_file_that_cannot_be_written_is_named(command: Command, tmp_path: Path) -> None:
    """If a file of the debrief cannot be written, the error names it and the reason."""
    path = recorded_flight(tmp_path / "kept", until_s=30.0)
    (tmp_path / "out" / "gates.csv").mkdir(parents=True)
    result = command("debrief", path, "--to", tmp_path / "out", "--no-pdf", "--data", "--data-dir", "off")
    assert result.code == 2
    assert "gates.csv: this cannot be written (Is a directory)" in result.err
    assert "name another with --to" in result.err


def test_a_session_without_recording_is_debriefed_from_the_store(
    command: Command, pack: Pack, tmp_path: Path
) -> None:
    """Without its recording a session is read from the store, with its tables but without samples."""
    data_dir = DataDir(tmp_path / "keep")
    record_two_sessions(pack, data_dir, f"sqlite:///{data_dir.store}")
    for recording in list_recordings(data_dir.recordings):
        recording.parts[0].unlink()
    arguments = ("debrief", "--data-dir", data_dir.folder, "--to", tmp_path / "out", "--no-pdf", "--data", "--pack", write_pack(tmp_path / "small"))  # fmt: skip
    result = command(*arguments)
    assert result.code == 0
    assert RECORDING_NOT_FOUND in " ".join(result.out.split())
    session_tables = json.loads((tmp_path / "out" / "session.json").read_text())
    assert session_tables["session"][0]["faults"] == RECORDING_NOT_FOUND
    assert session_tables["findings"]
    assert session_tables["flows"] == session_tables["evidence"] == []
    result = command(*arguments, "--samples")
    assert result.code == 2
    assert "there is no recording of this session" in result.err
