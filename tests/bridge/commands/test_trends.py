"""`holdshort trends`, `sessions`, `person`, `retain`, `tidy` as a user runs them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from bridge.store.database import open_store
from tests.bridge.conftest import Command
from tests.bridge.trends.sample_store import fill, sample_rows


@pytest.fixture(scope="module")
def keep(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a store of sixty sessions."""
    folder = tmp_path_factory.mktemp("keep")
    engine = open_store(f"sqlite:///{folder}/store.sqlite")
    fill(engine, sample_rows(60))
    engine.dispose()
    return folder


def test_trends_for_people(command: Command, keep: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The tables have counts with intervals, and the caution."""
    monkeypatch.setenv("COLUMNS", "120")
    ended = command("trends", "--data-dir", keep, "--pack", "twin_jet")
    assert (ended.code, ended.err) == (0, "")
    assert "sessions (pack twin_jet)" in ended.out
    assert "11 of 44" in ended.out
    assert "25 % [15 to 39]" in ended.out
    assert "For flight simulation only" in ended.out


def test_trends_as_json(command: Command, keep: Path) -> None:
    """The same as one object for programs."""
    ended = command("trends", "--data-dir", keep, "--pack", "twin_jet", "--json")
    told = json.loads(ended.out)
    assert told["filter"] == {"pack": "twin_jet"}
    assert told["missed"][0]["share"] == {"count": 11, "of": 44, "low": pytest.approx(0.1457, abs=1e-3), "high": pytest.approx(0.3943, abs=1e-3)}  # fmt: skip
    assert "simulation" in told["caution"]


def test_a_wrong_filter_is_bad_input(command: Command, keep: Path) -> None:
    """A filter that names nothing ends with 2 and a hint."""
    ended = command("trends", "--data-dir", keep, "--gate", "push_bak")
    assert ended.code == 2
    assert "did you mean push_back" in ended.err


@pytest.mark.parametrize("what", ["trends", "sessions"])
def test_without_a_store(command: Command, tmp_path: Path, what: str) -> None:
    """Without a store the command says so, and makes none."""
    ended = command(what, "--data-dir", tmp_path)
    assert ended.code == 0
    assert "the store is empty" in " ".join(ended.out.split())
    assert not (tmp_path / "store.sqlite").exists()


def test_sessions(command: Command, keep: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each session is a line, as JSON too."""
    monkeypatch.setenv("COLUMNS", "160")
    ended = command("sessions", "--data-dir", keep)
    assert ended.out.count("Course 1") == 60
    listed = json.loads(command("sessions", "--data-dir", keep, "--json").out)
    assert len(listed) == 60
    assert listed[0]["name"] == "Session 1"


def test_persons_and_their_export(command: Command, keep: Path, tmp_path: Path) -> None:
    """Pseudonyms are listed, and one of them given out as JSON."""
    assert "Heron: 17 sessions" in command("person", "list", "--data-dir", keep).out
    command("person", "export", "Heron", "--data-dir", keep, "--to", tmp_path / "heron.json")
    assert len(json.loads((tmp_path / "heron.json").read_text())["sessions"]) == 17


def test_erase_asks_first(command: Command, keep: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a yes nothing is erased, and the exit code is 1."""
    monkeypatch.setattr("typer.confirm", lambda *_, **__: False)
    ended = command("person", "erase", "Teal", "--data-dir", keep)
    assert (ended.code, "nothing was done" in ended.out) == (1, True)
    assert "Teal" in command("person", "list", "--data-dir", keep).out


def test_erase_says_what_was_done_and_what_is_not_reached(command: Command, keep: Path) -> None:
    """With `--yes` the person is erased; the output names the data that erasure does not reach."""
    ended = command("person", "erase", "Snipe", "--yes", "--data-dir", keep)
    assert ended.code == 0
    assert "Snipe is erased: 13 sessions" in ended.out
    assert "Not reached: debriefs" in " ".join(ended.out.split())
    assert "Snipe" not in command("person", "list", "--data-dir", keep).out


def test_retain_and_tidy(command: Command, tmp_path: Path) -> None:
    """The period is set, shown, and used; a wrong one is refused."""
    engine = open_store(f"sqlite:///{tmp_path}/store.sqlite")
    fill(engine, sample_rows(10))
    engine.dispose()
    assert "without limit" in command("retention", "--data-dir", tmp_path).out
    assert command("retention", "0", "--data-dir", tmp_path).code == 2
    assert "30 days" in command("retention", "30", "--data-dir", tmp_path).out
    refused = command("prune", "--yes", "--data-dir", tmp_path)
    assert (refused.code, "--allow-most" in refused.out) == (1, True)
    assert len(json.loads(command("sessions", "--data-dir", tmp_path, "--json").out)) == 10
    said = command("prune", "--yes", "--allow-most", "--data-dir", tmp_path)
    assert "older than 30 days" in said.out
    assert "removed" in said.out
    left = json.loads(command("sessions", "--data-dir", tmp_path, "--json").out)
    assert 0 <= len(left) < 10


def test_nothing_is_kept(command: Command) -> None:
    """Without a data folder commands about persons are refused with a hint."""
    ended = command("person", "list", "--data-dir", "off")
    assert ended.code == 2
    assert "the data folder is off" in ended.err
