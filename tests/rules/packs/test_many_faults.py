"""Tests of packs with thousands of mistakes: each is named, but the nearest word is not looked for without end."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.packs.conditions import MAX_HINTED, MAX_LISTED
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


def test_conditions_after_too_many_faults_are_not_checked(tmp_path: Path) -> None:
    """As many faults as are allowed are listed, then the place from which on nothing was checked; correct conditions cost nothing of it."""
    items = "".join(f"      - good_{n}: lights.beacon is on\n" for n in range(MAX_LISTED))
    items += "".join(f"      - item_{n}: lights.beacom is on\n" for n in range(MAX_LISTED + 200))
    (tmp_path / "pack.yaml").write_text(HEAD + items, encoding="utf-8")
    *faults, last = load_pack(str(tmp_path)).faults
    assert {fault.what for fault in faults} == {"unknown name lights.beacom"}
    assert len(faults) == MAX_LISTED
    assert (last.what, last.hint) == (
        "this condition and those after it were not checked",
        f"mend the {MAX_LISTED} before it first",
    )
    assert last.place.line == faults[-1].place.line + 1


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
