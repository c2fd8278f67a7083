"""Tests of `holdshort person`, `retention` and `prune` with recordings, as a user runs them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bridge.privacy.retention import DAY_S
from bridge.recording.recording_budget import list_recordings
from bridge.runtime.data_dir import DataDir
from rules.packs.model import Pack
from tests.bridge.conftest import Command
from tests.bridge.privacy.two_sessions import BEGAN_UTC, HERON, find_name, record_two_sessions


@pytest.fixture
def data_dir(pack: Pack, tmp_path: Path, address: str) -> DataDir:
    """Two sessions, recorded and stored."""
    directory = DataDir(tmp_path / "data")
    record_two_sessions(pack, directory, address)
    return directory


@pytest.fixture
def options(data_dir: DataDir, address: str) -> tuple[str, str, str, str]:
    """The options of the data directory and the store."""
    return ("--data-dir", str(data_dir.folder), "--store", address)


def test_list_export_and_erase_a_person(
    command: Command, data_dir: DataDir, options: tuple[str, ...], tmp_path: Path
) -> None:
    """List, export and erase one person, on each kind of database."""
    assert "Heron: 1 session, " in command("person", "list", *options).out
    file = tmp_path / "heron.json"
    assert command("person", "export", "heron", "--to", file, *options).code == 0
    assert json.loads(file.read_text())["pseudonym"] == HERON
    assert file.stat().st_mode & 0o077 == 0
    result = command("person", "erase", "heron", "--yes", *options)
    assert (result.code, result.err) == (0, "")
    assert "2 recordings overwritten" in result.out
    assert "Not reached: " in result.out
    assert "Heron" not in command("person", "list", *options).out
    assert find_name(HERON, DataDir(data_dir.folder)) == []
    assert command("person", "export", HERON, *options).code == 2
    assert command("person", "erase", HERON, "--yes", *options).code == 2


def test_an_export_to_standard_output(command: Command, options: tuple[str, ...]) -> None:
    """Without `--to` standard output has the document and nothing else."""
    assert json.loads(command("person", "export", "Plover", *options).out)["format_version"] == 1


def test_a_file_that_cannot_be_written_is_bad_input(
    command: Command, options: tuple[str, ...], tmp_path: Path
) -> None:
    """A file that cannot be written is bad input, with its name."""
    result = command("person", "export", "Plover", "--to", tmp_path, *options)
    assert result.code == 2
    assert str(tmp_path) in result.err


def test_most_sessions_are_removed_only_with_allow_most(
    command: Command, data_dir: DataDir, options: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """`--yes` alone does not remove more than stays; `--allow-most` does, with recordings and persons."""
    monkeypatch.setattr("bridge.commands.privacy.time.time", lambda: BEGAN_UTC + 40 * DAY_S)
    assert "without limit" in command("prune", "--yes", *options).out
    command("retention", "30", *options)
    refused = command("prune", "--yes", *options)
    assert (refused.code, len(list_recordings(data_dir.recordings))) == (1, 2)
    assert "2 sessions with 2 recordings; 0 sessions that ended remain" in " ".join(refused.out.split())
    pruned = command("prune", "--yes", "--allow-most", *options)
    assert (pruned.code, "removed" in pruned.out) == (0, True)
    assert list_recordings(data_dir.recordings) == []
    assert "no person is stored" in command("person", "list", *options).out
