"""Tests of the note on what was compiled."""

from __future__ import annotations

from importlib.machinery import EXTENSION_SUFFIXES
from pathlib import Path

import pytest

from rules import compiled
from rules.compiled import changed_sources, is_compiled, note_sources


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Packages with one source and a compiled library."""
    (tmp_path / "rules").mkdir()
    (tmp_path / "rules" / "one.py").write_text("A = 1\n")
    (tmp_path / "rules" / f"library{EXTENSION_SUFFIXES[0]}").touch()
    monkeypatch.setattr(compiled, "TOP", tmp_path)
    monkeypatch.setattr(compiled, "NOTE", tmp_path / "rules" / "note.json")
    return tmp_path


def test_a_changed_source_is_named(folder: Path) -> None:
    """A source with other contents is named, one that was only touched is not, and one that is gone is."""
    note_sources(["rules/one.py"])
    (folder / "rules" / "one.py").touch()
    assert changed_sources() == []
    (folder / "rules" / "one.py").write_text("A = 2\n")
    assert changed_sources() == ["rules/one.py"]
    (folder / "rules" / "one.py").unlink()
    assert changed_sources() == ["rules/one.py"]


def test_without_a_note_nothing_is_trusted(folder: Path) -> None:
    """Compiled modules whose sources were not noted may be of any."""
    assert is_compiled()
    assert changed_sources() == ["note.json"]
    (folder / "rules" / f"library{EXTENSION_SUFFIXES[0]}").unlink()
    assert not is_compiled()
    assert changed_sources() == []
