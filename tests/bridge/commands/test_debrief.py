"""`holdshort debrief` as a user runs it."""

from __future__ import annotations

import json
from pathlib import Path

from bridge.debrief.from_store import RECORDING_DELETED
from bridge.recording.retention import list_recordings
from bridge.runtime.data_dir import DataDir
from rules.packs.model import Pack
from tests.bridge.builders import write_pack
from tests.bridge.conftest import Command
from tests.bridge.debrief.recorded_flight import recorded_flight
from tests.bridge.privacy.two_sessions import record_two_sessions


def test_a_debrief_of_the_last_session(command: Command, tmp_path: Path) -> None:
    """The page, the tables and the samples are written, and the summary is printed."""
    recorded_flight(tmp_path / "keep" / "recordings", until_s=80.0)
    out = tmp_path / "out"
    ended = command(
        "debrief", "--data-dir", tmp_path / "keep", "--to", out, "--data", "--samples", "--no-pdf"
    )
    assert (ended.code, ended.err) == (0, "")
    assert "Heron as captain" in " ".join(ended.out.split())
    assert "For flight simulation only" in ended.out
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


def test_by_its_recording(command: Command, tmp_path: Path) -> None:
    """A recording is enough, wherever it is."""
    path = recorded_flight(tmp_path, until_s=30.0)
    ended = command("debrief", path, "--to", tmp_path / "out", "--no-pdf", "--data-dir", "off")
    assert ended.code == 0
    assert (tmp_path / "out" / "debrief.html").stat().st_size > 10_000


def test_no_such_session(command: Command, tmp_path: Path) -> None:
    """A session that is not there is bad input, and nothing is written."""
    ended = command("debrief", "nobody", "--data-dir", tmp_path, "--to", tmp_path / "out")
    assert ended.code == 2
    assert "no session is called nobody" in ended.err
    assert not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_made(command: Command, tmp_path: Path) -> None:
    """A folder that cannot be made is bad input, with a hint."""
    recorded_flight(tmp_path / "keep" / "recordings", until_s=30.0)
    (tmp_path / "file").write_text("in the way")
    ended = command("debrief", "--data-dir", tmp_path / "keep", "--to", tmp_path / "file" / "out")
    assert ended.code == 2
    assert "name another with --to" in ended.err
    assert len(list_recordings(tmp_path / "keep" / "recordings")) == 1


def test_a_file_that_cannot_be_written(command: Command, tmp_path: Path) -> None:
    """Where a file of the debrief cannot be written, that file and the reason are named."""
    path = recorded_flight(tmp_path / "kept", until_s=30.0)
    (tmp_path / "out" / "gates.csv").mkdir(parents=True)
    ended = command("debrief", path, "--to", tmp_path / "out", "--no-pdf", "--data", "--data-dir", "off")
    assert ended.code == 2
    assert "gates.csv: this cannot be written (Is a directory)" in ended.err
    assert "name another with --to" in ended.err


def test_from_the_store(command: Command, pack: Pack, tmp_path: Path) -> None:
    """Where its recording is gone a session is told from the store, with its tables; its samples are not to be had."""
    keep = DataDir(tmp_path / "keep")
    record_two_sessions(pack, keep, f"sqlite:///{keep.store}")
    for kept in list_recordings(keep.recordings):
        kept.parts[0].unlink()
    words = ("debrief", "--data-dir", keep.folder, "--to", tmp_path / "out", "--no-pdf", "--data", "--pack", write_pack(tmp_path / "small"))  # fmt: skip
    ended = command(*words)
    assert ended.code == 0
    assert RECORDING_DELETED in " ".join(ended.out.split())
    said = json.loads((tmp_path / "out" / "session.json").read_text())
    assert said["session"][0]["faults"] == RECORDING_DELETED
    assert said["findings"]
    assert said["flows"] == said["evidence"] == []
    ended = command(*words, "--samples")
    assert ended.code == 2
    assert "the recording of this session was removed" in ended.err
