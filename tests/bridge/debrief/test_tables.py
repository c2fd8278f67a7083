"""The tables of a session against what they are made of, and what is said where a file cannot be written."""

from __future__ import annotations

import csv
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from bridge.debrief.export import INSTALL_HINT, save_csv, save_parquet, save_samples
from bridge.debrief.model import DebriefData
from bridge.debrief.tables import DebriefTable, debrief_tables
from bridge.recording.reader import open_recording
from rules.faults import InputFaults
from rules.signals.number_format import format_value

GUIDE = (Path(__file__).parents[3] / "DEVELOPERS.md").read_text(encoding="utf-8")


def _rows(account: DebriefData, name: str) -> list[dict[str, Any]]:
    (sheet,) = [sheet for sheet in debrief_tables(account) if sheet.name == name]
    return [dict(zip(sheet.columns, row, strict=True)) for row in sheet.rows]


def test_strips_with_their_marks_and_limits(account: DebriefData) -> None:
    """Every value of every strip is a row on the session's axis, as are its events, and its limits stand beside it."""
    rows, marks = _rows(account, "strips"), _rows(account, "marks")
    kept = [strip.record for strip in account.traces]
    assert len(rows) == sum(len(one.times_s) * len(one.columns) for one in kept)
    for number, strip in enumerate(account.traces, start=1):
        of_strip = [row for row in rows if row["number"] == number]
        assert of_strip[0]["at_s"] == pytest.approx(
            strip.at_s + strip.record.times_s[0] - strip.record.began_s
        )
        told = [(mark["label"], mark["at_s"] - strip.at_s) for mark in marks if mark["number"] == number]
        wanted = [(mark.label, mark.sim_s - strip.record.began_s) for mark in strip.record.marks]
        assert [label for label, _ in told] == [label for label, _ in wanted]
        assert [at_s for _, at_s in told] == pytest.approx([at_s for _, at_s in wanted])
    n2 = [row["value"] for row in rows if row["number"] == 1 and row["signal"] == "engine.2.n2"]
    (column,) = [column for column in kept[0].columns if column.signal == "engine.2.n2"]
    assert n2 == list(column.values)
    limits = _rows(account, "limits")
    assert len([row for row in limits if row["strip"] == 1]) == len(kept[0].limits) > 0
    assert {"strip": None, "finding": 8, "signal": "engine.2.n2", "value": 25.0, "label": "least N2 for fuel"} in limits  # fmt: skip


def test_a_word_has_its_own_column(account: DebriefData) -> None:
    """A switch's value is a word without a number, a pressure's a number without a word."""
    rows = _rows(account, "evidence")
    doors = [row for row in rows if row["signal"] == "door.hold.2"]
    speeds = [row for row in rows if row["signal"] == "engine.2.n2"]
    assert {row["word"] for row in doors} == {"open", "closed"}
    assert all(row["value"] is None for row in doors)
    assert all(isinstance(row["value"], float) and row["word"] is None for row in speeds)


def test_who_sat_where(account: DebriefData) -> None:
    """Each seat with its title and who sat in it."""
    assert [(row["seat"], row["title"], row["person"]) for row in _rows(account, "seats")] == [
        ("captain", "Captain", "Heron"),
        ("first_officer", "First officer", "Plover"),
    ]


def test_flows_cover_the_session(account: DebriefData) -> None:
    """The left aft pump is open up to when it was switched on, in its phase and seat, and met from then on."""
    (case,) = [case for case in account.findings if case.finding.item == "flow.before_start.pump_left_aft"]
    rows = [row for row in _rows(account, "flows") if row["item"] == case.finding.item]
    assert {(row["flow"], row["phase"], row["seat"]) for row in rows} == {("before_start", "before_start", "first_officer")}  # fmt: skip
    (lasting,) = [row for row in rows if row["from_s"] <= case.at_s < row["to_s"]]
    assert (lasting["life"], lasting["to_s"]) == ("open", case.closed_at_s)
    assert [row["life"] for row in rows if row["from_s"] == case.closed_at_s] == ["met"]


def test_gates_tell_how_early_all_was_ready(account: DebriefData) -> None:
    """What was spare at a gate is the time from its readiness to its entry, empty where it was not ready."""
    by_gate = {row["gate"]: row for row in _rows(account, "gates")}
    start = by_gate["engine_start"]
    assert start["spare_s"] == pytest.approx(start["entered_at_s"] - start["cue_at_s"])
    assert by_gate["push_back"]["spare_s"] is None
    assert by_gate["high_speed"]["entered_at_s"] is None


def test_faults_stand_with_the_session(account: DebriefData) -> None:
    """What is missing of a session is said in its row, nothing where nothing is."""
    (whole,) = _rows(account, "session")
    (cut,) = _rows(replace(account, faults=("It breaks off.", "More is missing.")), "session")
    assert (whole["faults"], cut["faults"]) == ("", "It breaks off. More is missing.")
    assert whole["to_s"] == account.to_s


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1 kt", "@SUM(A1)", "\t=1", "\r=1"])
def test_what_begins_like_a_formula(text: str, tmp_path: Path) -> None:
    """Each such text has an apostrophe before it, and a number below zero has none."""
    (path,) = save_csv([DebriefTable("one", {"text": "text", "value": "number"}, [(text, -1.5)])], tmp_path)
    with path.open(newline="", encoding="utf-8") as file:
        _, (said, number) = csv.reader(file)
    assert (said, number) == (f"'{text}", "-1.5")


def test_lines_and_quotes_are_those_of_the_standard(tmp_path: Path) -> None:
    """A line ends in CR LF, and a comma, a quotation mark and a line within a text are quoted (RFC 4180)."""
    (path,) = save_csv([DebriefTable("one", {"text": "text"}, [('a, "b"\nc',), (None,)])], tmp_path)
    assert path.read_bytes() == b'text\r\n"a, ""b""\nc"\r\n""\r\n'


def test_an_empty_table_keeps_its_types(tmp_path: Path) -> None:
    """A table without rows has its typed columns all the same."""
    import pyarrow.parquet as pq

    columns = {"a": "text", "b": "number", "c": "whole", "d": "yes or no"}
    (path,) = save_parquet([DebriefTable("none", columns, [])], tmp_path)
    table = pq.read_table(path)
    assert table.num_rows == 0
    assert [str(kind) for kind in table.schema.types] == ["string", "double", "int64", "bool"]


def test_without_the_library_the_way_to_it_is_told(
    recording: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Where pyarrow is not installed both that need it name the line that installs it."""
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert "pip install 'holdshort[report]'" in INSTALL_HINT
    with pytest.raises(InputFaults, match="Parquet needs pyarrow: pip install"):
        save_parquet([], tmp_path)
    with pytest.raises(InputFaults, match="Parquet needs pyarrow: pip install"):
        save_samples(open_recording(recording), tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_the_sums_are_right(account: DebriefData) -> None:
    """The zero-fuel mass in the working is the sum of the two masses of the papers."""
    said = {row["label"]: row["value"] for row in _rows(account, "papers")}
    masses = [float(said[label].removesuffix(" kg").replace(" ", "")) for label in ("sheet empty mass", "sheet load")]  # fmt: skip
    assert said["zero-fuel mass"] == format_value(sum(masses), "kg")


def test_the_guide_has_every_column(account: DebriefData) -> None:
    """The guide's list of tables has each with its columns in their order, and no other."""
    section = GUIDE.partition("| table | columns | holds |")[2].partition("\n\n")[0]
    rows = [line.split(" | ") for line in section.splitlines() if line.startswith("| `")]
    said = {name.strip("| `"): columns.replace("`", "").split(", ") for name, columns, *_ in rows}
    assert said == {sheet.name: list(sheet.columns) for sheet in debrief_tables(account)}
