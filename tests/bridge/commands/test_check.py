"""Tests of `holdshort check`: what is in a pack, or every fault in it."""

from __future__ import annotations

from pathlib import Path

from rules.packs.load_pack import SHIPPED_DIR
from tests.bridge.builders import PACK, write_pack
from tests.bridge.conftest import Command
from tests.shipped import shipped_pack


def test_a_valid_pack_is_summarised(command: Command) -> None:
    """A pack without faults gives a summary and exit code 0."""
    result = command("check", "twin_jet", "--trip", SHIPPED_DIR / "twin_jet" / "trip_demo.yaml")
    assert (result.code, result.err) == (0, "")
    pack = shipped_pack("twin_jet")
    assert result.out.startswith(f"{pack.title}, version {pack.version} (twin_jet)\n")
    assert f" {len(pack.items)} items, {len(pack.watches)} watches, {len(pack.gates)} gates," in result.out


def test_every_broken_condition_is_reported(command: Command, tmp_path: Path) -> None:
    """All broken conditions are reported, each at its line: exit code 2."""
    pack_text = PACK.replace("lights.beacon is on", "lights.beacn is on").replace("3200 psi", "3200 kg")
    result = command("check", write_pack(tmp_path / "broken", pack_text))
    assert result.code == 2
    assert "2 conditions have faults and are shown as unknown" in result.err
    assert "did you mean lights.beacon?" in result.err
    lines = pack_text.splitlines()
    for wrong in ("lights.beacn", "3200 kg"):
        line_number = next(number for number, line in enumerate(lines, 1) if wrong in line)
        assert f"pack.yaml:{line_number}:" in result.err


def test_invalid_yaml_is_reported(command: Command, tmp_path: Path) -> None:
    """Invalid YAML is reported with its place: exit code 2."""
    result = command("check", write_pack(tmp_path / "torn", "pack: {id: small"))
    assert result.code == 2
    assert "pack.yaml:1:" in result.err


def test_a_missing_file_is_named_with_its_option(command: Command) -> None:
    """A trip sheet that does not exist is reported with the option that names it."""
    result = command("check", "twin_jet", "--trip", "no_file.yaml")
    assert (result.code, result.err) == (2, "--trip: no_file.yaml: no such file\n")
