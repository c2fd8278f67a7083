"""Tests of `holdshort trends`, `sessions`, `person`, `retention` and `prune`."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from bridge.store.database import open_store
from tests.bridge.conftest import Command
from tests.bridge.trends.sample_store import add_doubt, add_gap, fill, sample_rows


@pytest.fixture(scope="module")
def data_dir(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a data folder with a store of sixty sessions."""
    folder = tmp_path_factory.mktemp("data")
    engine = open_store(f"sqlite:///{folder}/store.sqlite")
    fill(engine, sample_rows(60))
    engine.dispose()
    return folder


def test_trends_as_tables(command: Command, data_dir: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The tables have counts with intervals, and the caution."""
    monkeypatch.setenv("COLUMNS", "120")
    result = command("trends", "--data-dir", data_dir, "--pack", "twin_jet")
    assert (result.code, result.err) == (0, "")
    assert "sessions (pack twin_jet)" in result.out
    assert "11 of 44" in result.out
    assert "25 % [15 to 39]" in result.out
    assert "For flight simulation only" in result.out


def test_gates_fit_80_columns(command: Command, data_dir: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """In a terminal of the usual width a gate has one line for its shares, and at most two for its times."""
    monkeypatch.setenv("COLUMNS", "80")
    out = command("trends", "--data-dir", data_dir, "--pack", "twin_jet").out
    lines = [line.rstrip() for line in out.splitlines()]
    first, second, end = map(lines.index, ("Gates", "Ready before the gates", "Threat and error"))
    shares, times = (
        [line for line in part if line] for part in (lines[first + 2 : second], lines[second + 2 : end])
    )
    assert shares
    assert [line for line in shares if not line[0].isalnum() or "%" not in line] == []
    assert len(times) <= 2 * len(shares)


def test_trends_as_json(command: Command, data_dir: Path) -> None:
    """With `--json` one object has the same numbers."""
    result = command("trends", "--data-dir", data_dir, "--pack", "twin_jet", "--json")
    output = json.loads(result.out)
    assert output["filter"] == {"pack": "twin_jet"}
    assert output["missed"][0]["share"] == {"count": 11, "of": 44, "low": pytest.approx(0.1457, abs=1e-3), "high": pytest.approx(0.3943, abs=1e-3)}  # fmt: skip
    assert "simulation" in output["disclaimer"]


def test_trends_show_what_could_not_be_verified_apart(
    command: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first line counts findings, doubts and sessions with missing data; items have their doubts beside their errors."""
    monkeypatch.setenv("COLUMNS", "140")
    rows = sample_rows(60)
    engine = open_store(f"sqlite:///{tmp_path}/store.sqlite")
    fill(engine, rows)
    right = [
        s["id"]
        for s in rows.sessions
        if s["pack"] == "twin_jet" and not any(f["session"] == s["id"] for f in rows.findings)
    ]
    for session in right[:3]:
        add_doubt(engine, session, "flow.x.doors")
        add_gap(engine, session)
    engine.dispose()
    out = command("trends", "--data-dir", tmp_path, "--pack", "twin_jet").out
    assert ", 3 not verifiable in 3 sessions, data missing in 3 sessions" in out.splitlines()[0]
    assert "11 of 41, 3 more not verifiable" in out
    (listed,) = [line for line in out.splitlines() if line.startswith("flow.x.doors")]
    assert listed.split("push_back")[1].split()[:3] == ["3", "of", "44"]
    assert "3 not verifiable" not in command("trends", "--data-dir", tmp_path, "--pack", "trainer").out


@pytest.mark.parametrize("filters", [("--person", "Rail"), ("--course", "Course 99")])
def test_few_sessions_have_no_number_of_findings(
    command: Command, tmp_path: Path, filters: tuple[str, str]
) -> None:
    """With fewer than five sessions the command prints their number and no number of findings, and null as JSON."""
    rows = sample_rows(12)
    rows.persons.append({"id": 99, "pseudonym": "Rail"})
    for session in rows.sessions[:4]:
        session["course"] = "Course 99"
        seating = {"seat": "captain", "sim_s": 0.0, "utc": session["began_utc"], "person": 99}
        rows.seatings.append({"session": session["id"], "number": 9, **seating})
    engine = open_store(f"sqlite:///{tmp_path}/store.sqlite")
    fill(engine, rows)
    engine.dispose()
    out = " ".join(command("trends", "--data-dir", tmp_path, *filters).out.split())
    assert out.startswith(f"4 sessions ({filters[0][2:]} {filters[1]}) Too few sessions (4):")
    assert re.search(r"\d+ (findings?|rows?|not verifiable)", out) is None
    output = json.loads(command("trends", "--data-dir", tmp_path, *filters, "--json").out)
    hidden = ("findings", "doubts", "doubt_sessions", "gap_sessions", "rare")
    assert [output[name] for name in hidden] == [None] * 5


def test_an_unknown_filter_value_is_refused(command: Command, data_dir: Path) -> None:
    """An unknown gate in a filter ends with 2 and a hint."""
    result = command("trends", "--data-dir", data_dir, "--gate", "push_bak")
    assert result.code == 2
    assert "did you mean push_back" in result.err


@pytest.mark.parametrize("subcommand", ["trends", "sessions"])
def test_without_a_store_the_command_says_so(command: Command, tmp_path: Path, subcommand: str) -> None:
    """Without a store the command says so and creates none."""
    result = command(subcommand, "--data-dir", tmp_path)
    assert result.code == 0
    assert "the store is empty" in " ".join(result.out.split())
    assert not (tmp_path / "store.sqlite").exists()


def test_sessions_are_listed(command: Command, data_dir: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each session is one line, and one object with `--json`."""
    monkeypatch.setenv("COLUMNS", "160")
    result = command("sessions", "--data-dir", data_dir)
    assert result.out.count("Course 1") == 60
    listed = json.loads(command("sessions", "--data-dir", data_dir, "--json").out)
    assert len(listed) == 60
    assert listed[0]["name"] == "Session 1"


def test_persons_are_listed_and_exported(command: Command, data_dir: Path, tmp_path: Path) -> None:
    """Pseudonyms are listed, and the data of one are exported as JSON."""
    assert "Heron: 17 sessions" in command("person", "list", "--data-dir", data_dir).out
    command("person", "export", "Heron", "--data-dir", data_dir, "--to", tmp_path / "heron.json")
    assert len(json.loads((tmp_path / "heron.json").read_text())["sessions"]) == 17


def test_erase_asks_first(command: Command, data_dir: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a confirmation nothing is erased, and the exit code is 1."""
    monkeypatch.setattr("typer.confirm", lambda *_, **__: False)
    result = command("person", "erase", "Teal", "--data-dir", data_dir)
    assert (result.code, "nothing was done" in result.out) == (1, True)
    assert "Teal" in command("person", "list", "--data-dir", data_dir).out


def test_erase_reports_erased_and_remaining_data(command: Command, data_dir: Path) -> None:
    """With `--yes` the person is erased; the output names the data that erasure does not reach."""
    result = command("person", "erase", "Snipe", "--yes", "--data-dir", data_dir)
    assert result.code == 0
    assert "Snipe is erased: 13 sessions" in result.out
    assert "Not reached: debriefs" in " ".join(result.out.split())
    assert "Snipe" not in command("person", "list", "--data-dir", data_dir).out


def test_retention_and_prune(command: Command, tmp_path: Path) -> None:
    """The retention period is set, shown and applied; a wrong one is refused."""
    engine = open_store(f"sqlite:///{tmp_path}/store.sqlite")
    fill(engine, sample_rows(10))
    engine.dispose()
    assert "without limit" in command("retention", "--data-dir", tmp_path).out
    assert command("retention", "0", "--data-dir", tmp_path).code == 2
    assert "30 days" in command("retention", "30", "--data-dir", tmp_path).out
    refused = command("prune", "--yes", "--data-dir", tmp_path)
    assert (refused.code, "--allow-most" in refused.out) == (1, True)
    assert len(json.loads(command("sessions", "--data-dir", tmp_path, "--json").out)) == 10
    pruned = command("prune", "--yes", "--allow-most", "--data-dir", tmp_path)
    assert "older than 30 days" in pruned.out
    assert "removed" in pruned.out
    remaining = json.loads(command("sessions", "--data-dir", tmp_path, "--json").out)
    assert 0 <= len(remaining) < 10


def test_commands_about_persons_need_a_data_folder(command: Command) -> None:
    """Without a data folder commands about persons are refused with a hint."""
    result = command("person", "list", "--data-dir", "off")
    assert result.code == 2
    assert "the data folder is off" in result.err
