"""Tests of packs with thousands of mistakes: each is named, but the nearest word is not looked for without end."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.packs.conditions import MAX_HINTED
from rules.packs.load_pack import load_pack
from rules.source.suggestions import MAX_COMPARED, nearest_word

HEAD = """
pack: {id: many, title: Many, signals: [twin_jet, trip]}
seats: {captain: Captain}
phases:
  stand: {title: At the stand, code: STD}
flows:
  all:
    title: All
    phase: stand
    captain:
"""


def test_only_the_first_faults_of_conditions_have_a_hint(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every unknown name is a fault with its line; a nearest name is looked for only for the first ones."""
    count, compared = MAX_HINTED + 30, list[str]()

    def counted(word: str, _: object) -> str:
        compared.append(word)
        return ""

    monkeypatch.setattr("rules.language.scope.nearest_word", counted)
    items = "".join(f"      - item_{n}: lights.beacom_{n} is on\n" for n in range(count))
    (tmp_path / "pack.yaml").write_text(HEAD + items, encoding="utf-8")
    pack = load_pack(str(tmp_path))
    assert [fault.what for fault in pack.faults] == [f"unknown name lights.beacom_{n}" for n in range(count)]
    assert len(pack.faults) == count
    assert len(compared) == MAX_HINTED


def test_a_mistyped_name_has_a_hint(tmp_path: Path) -> None:
    """Among a few faults each one has its hint."""
    (tmp_path / "pack.yaml").write_text(HEAD + "      - light: lights.becon is on\n", encoding="utf-8")
    (fault,) = load_pack(str(tmp_path)).faults
    assert fault.hint == "did you mean lights.beacon?"


def test_no_word_is_compared_with_too_many() -> None:
    """Beyond the limit no nearest word is looked for; up to it one is found."""
    known = [f"word_{n}" for n in range(MAX_COMPARED)]
    assert nearest_word("word_7x", known).startswith("word_7")
    assert nearest_word("word_7x", [*known, "another"]) == ""
