"""Tests of `holdshort check`: what is in a pack, or every fault in it."""

from __future__ import annotations

from pathlib import Path

from rules.packs.inheritance import SHIPPED_DIR
from rules.packs.load_pack import load_pack
from tests.bridge.builders import PACK, write_pack
from tests.bridge.conftest import Command


def test_a_good_pack_is_summed_up(command: Command) -> None:
    """A pack without faults is summed up: exit code 0."""
    ended = command("check", "twin_jet", "--trip", SHIPPED_DIR / "twin_jet" / "trip_demo.yaml")
    assert (ended.code, ended.err) == (0, "")
    pack = load_pack("twin_jet")
    assert ended.out.startswith(f"{pack.title}, version {pack.version} (twin_jet)\n")
    assert (
        f" {len(pack.items)} expectations, {len(pack.watches)} watches, {len(pack.gates)} gates," in ended.out
    )


def test_every_broken_condition_is_told(command: Command, tmp_path: Path) -> None:
    """All broken conditions are reported, each at its line: exit code 2."""
    text = PACK.replace("lights.beacon is on", "lights.beacn is on").replace("3200 psi", "3200 kg")
    ended = command("check", write_pack(tmp_path / "broken", text))
    assert ended.code == 2
    assert "2 conditions are broken" in ended.err
    assert "did you mean lights.beacon?" in ended.err
    lines = text.splitlines()
    for wrong in ("lights.beacn", "3200 kg"):
        at = next(number for number, line in enumerate(lines, 1) if wrong in line)
        assert f"pack.yaml:{at}:" in ended.err


def test_a_torn_pack_is_told(command: Command, tmp_path: Path) -> None:
    """Invalid YAML is reported with its place: exit code 2."""
    ended = command("check", write_pack(tmp_path / "torn", "pack: {id: small"))
    assert ended.code == 2
    assert "pack.yaml:1:" in ended.err
