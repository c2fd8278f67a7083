"""Tests of bridge.runtime.data_dir: choice and creation of the data folder."""

from __future__ import annotations

import stat
from pathlib import Path

import pytest

from bridge.runtime.data_dir import ENVIRONMENT_VARIABLE, OFF, resolve_data_dir
from rules.faults import InputFaults


def test_only_its_owner_can_read_the_folder(tmp_path: Path) -> None:
    """The option names the folder; only its owner can read it."""
    data_dir = resolve_data_dir(str(tmp_path / "data"))
    assert data_dir is not None
    assert data_dir.recordings.is_dir()
    assert data_dir.spool.is_dir()
    assert data_dir.store == tmp_path / "data" / "store.sqlite"
    assert stat.S_IMODE(data_dir.folder.stat().st_mode) == 0o700


def test_the_option_precedes_environment_and_default(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The option precedes the environment, the environment the default; `off` stores nothing in each."""
    monkeypatch.setenv(ENVIRONMENT_VARIABLE, str(tmp_path / "variable"))
    named = resolve_data_dir(str(tmp_path / "option"))
    unnamed = resolve_data_dir("", default=OFF)
    assert named is not None
    assert unnamed is not None
    assert (named.folder.name, unnamed.folder.name) == ("option", "variable")
    assert resolve_data_dir(OFF) is None
    monkeypatch.setenv(ENVIRONMENT_VARIABLE, OFF)
    assert resolve_data_dir("") is None
    monkeypatch.delenv(ENVIRONMENT_VARIABLE)
    assert resolve_data_dir("", default=OFF) is None


def test_a_folder_that_cannot_be_created_is_reported_with_a_hint(tmp_path: Path) -> None:
    """If a file has the name of the folder, the fault says so and names the options."""
    (tmp_path / "file").write_text("")
    with pytest.raises(InputFaults, match="--data-dir off"):
        resolve_data_dir(str(tmp_path / "file" / "data"))
