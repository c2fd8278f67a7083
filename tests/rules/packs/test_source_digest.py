"""The hash of a pack: it follows the contents of the files, and nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest

from rules.packs.load_pack import load_pack
from rules.packs.trip_sheet import TripSheet
from tests.rules.packs.sample_packs import COMPLETE_PACK, load_text

SMALL_PACK = """pack: {id: small, title: Small}
seats: {pilot: Pilot}
phases: {stand: {title: Stand, code: STD}}
signals:
  33:
    title: Lights
    signals:
      lamp: {switch: ["off", "on"], label: lamp, means: a lamp}
flows:
  first:
    title: First
    phase: stand
    pilot:
      - lamp: lamp is on
"""


def digest_of(folder: Path, text: str) -> str:
    """Load a pack of this text and give its hash."""
    folder.mkdir(parents=True, exist_ok=True)
    return load_text(folder, text).source_digest


def test_the_hash_of_a_pack_is_pinned(tmp_path: Path) -> None:
    """Recordings hold the hash: it changes only with the files, so never through a renamed class or attribute."""
    assert (
        digest_of(tmp_path, SMALL_PACK) == "b87612a07dd4bc093cca66ee800339c90e8892e1d00fa468d59bc6c81eff8ef8"
    )


def test_comments_and_layout_do_not_count(tmp_path: Path) -> None:
    """A comment, another order of keys and another folder leave the hash as it is."""
    moved = COMPLETE_PACK.replace("pack: {id: ", "# A comment.\npack: {id: ")
    assert digest_of(tmp_path / "a", COMPLETE_PACK) == digest_of(tmp_path / "b", moved)
    turned = SMALL_PACK.replace("{title: Stand, code: STD}", "{code: STD, title: Stand}")
    assert digest_of(tmp_path / "c", SMALL_PACK) == digest_of(tmp_path / "d", turned)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("lamp is on", "lamp is off"),
        ("title: First", "title: Second"),
        ("means: a lamp", "means: another lamp"),
        ("id: small", "id: other"),
        ("- lamp: lamp is on", "- lamp: lamp is on\n        hold: 2 s"),
    ],
)
def test_each_change_of_contents_counts(tmp_path: Path, old: str, new: str) -> None:
    """A condition, a title, a signal, the head or a new key: each gives another hash."""
    assert SMALL_PACK.count(old) == 1
    assert digest_of(tmp_path / "a", SMALL_PACK) != digest_of(tmp_path / "b", SMALL_PACK.replace(old, new))


def test_an_inoperative_signal_counts(tmp_path: Path) -> None:
    """The trip sheet changes which items count, and so the hash."""
    path = tmp_path / "pack.yaml"
    path.write_text(SMALL_PACK, encoding="utf-8")
    without = load_pack(str(path)).source_digest
    sheet = TripSheet("title", {}, ("lamp",), "")
    assert load_pack(str(path), trip=sheet).source_digest != without
