"""`holdshort person`, `retention` and `prune` with recordings, as a user runs them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bridge.privacy.retention import DAY_S
from bridge.recording.retention import list_recordings
from bridge.runtime.data_dir import DataDir
from rules.packs.model import Pack
from tests.bridge.conftest import Command
from tests.bridge.privacy.two_sessions import BEGAN_UTC, HERON, find_name, record_two_sessions


@pytest.fixture
def keep(pack: Pack, tmp_path: Path, address: str) -> DataDir:
    """Two sessions, recorded and stored."""
    made = DataDir(tmp_path / "keep")
    record_two_sessions(pack, made, address)
    return made


@pytest.fixture
def at(keep: DataDir, address: str) -> tuple[str, str, str, str]:
    """The options that name them."""
    return ("--data-dir", str(keep.folder), "--store", address)


def test_a_person_is_listed_given_out_and_erased(
    command: Command, keep: DataDir, at: tuple[str, ...], tmp_path: Path
) -> None:
    """The whole way of one person, on each kind of database."""
    assert "Heron: 1 session, " in command("person", "list", *at).out
    file = tmp_path / "heron.json"
    assert command("person", "export", "heron", "--to", file, *at).code == 0
    assert json.loads(file.read_text())["pseudonym"] == HERON
    assert file.stat().st_mode & 0o077 == 0
    ended = command("person", "erase", "heron", "--yes", *at)
    assert (ended.code, ended.err) == (0, "")
    assert "2 recordings overwritten" in ended.out
    assert "Not reached: " in ended.out
    assert "Heron" not in command("person", "list", *at).out
    assert find_name(HERON, DataDir(keep.folder)) == []
    assert command("person", "export", HERON, *at).code == 2
    assert command("person", "erase", HERON, "--yes", *at).code == 2


def test_an_export_without_a_file_is_on_the_screen(command: Command, at: tuple[str, ...]) -> None:
    """Without `--to` the document is all that is written to standard output."""
    assert json.loads(command("person", "export", "Plover", *at).out)["format_version"] == 1


def test_a_file_that_cannot_be_written_is_bad_input(
    command: Command, at: tuple[str, ...], tmp_path: Path
) -> None:
    """Where the file cannot be written that is said, with its name."""
    ended = command("person", "export", "Plover", "--to", tmp_path, *at)
    assert ended.code == 2
    assert str(tmp_path) in ended.err


def test_everything_old_goes_only_where_that_is_meant(
    command: Command, keep: DataDir, at: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """With `--yes` alone more is not removed than stays; with `--allow-most` it is, with recordings and persons."""
    monkeypatch.setattr("bridge.commands.privacy.time.time", lambda: BEGAN_UTC + 40 * DAY_S)
    assert "for ever" in command("prune", "--yes", *at).out
    command("retention", "30", *at)
    refused = command("prune", "--yes", *at)
    assert (refused.code, len(list_recordings(keep.recordings))) == (1, 2)
    assert "2 sessions with 2 recordings; 0 sessions that ended would stay" in " ".join(refused.out.split())
    done = command("prune", "--yes", "--allow-most", *at)
    assert (done.code, "removed" in done.out) == (0, True)
    assert list_recordings(keep.recordings) == []
    assert "nobody is known" in command("person", "list", *at).out
