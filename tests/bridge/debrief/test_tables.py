"""Tests of the tables of a session, of escaping in CSV, and of a missing library."""

from __future__ import annotations

import csv
import re
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

import bridge.debrief
from bridge.debrief.export import INSTALL_HINT, save_csv, save_parquet, save_samples
from bridge.debrief.model import DebriefData
from bridge.debrief.tables import DebriefTable, debrief_tables
from bridge.recording.reader import open_recording
from rules.faults import InputFaults
from rules.signals.number_format import format_value
from tests.bridge.debrief.recorded_flight import number_of

README = Path(bridge.debrief.__file__).parent / "README.md"


def _rows(debrief: DebriefData, name: str) -> list[dict[str, Any]]:
    (table,) = [table for table in debrief_tables(debrief) if table.name == name]
    return [dict(zip(table.columns, row, strict=True)) for row in table.rows]


def test_traces_with_their_marks_and_limits(debrief: DebriefData) -> None:
    """Every value and every mark of a trace is a row on the session's axis, and its limits are in their table."""
    rows, marks = _rows(debrief, "traces"), _rows(debrief, "marks")
    records = [trace.record for trace in debrief.traces]
    assert len(rows) == sum(len(one.times_s) * len(one.columns) for one in records)
    for number, trace in enumerate(debrief.traces, start=1):
        own_rows = [row for row in rows if row["number"] == number]
        assert own_rows[0]["at_s"] == pytest.approx(
            trace.at_s + trace.record.times_s[0] - trace.record.began_s
        )
        written = [(mark["label"], mark["at_s"] - trace.at_s) for mark in marks if mark["number"] == number]
        expected = [(mark.label, mark.sim_s - trace.record.began_s) for mark in trace.record.marks]
        assert [label for label, _ in written] == [label for label, _ in expected]
        assert [at_s for _, at_s in written] == pytest.approx([at_s for _, at_s in expected])
    n2 = [row["value"] for row in rows if row["number"] == 1 and row["signal"] == "engine.2.n2"]
    (column,) = [column for column in records[0].columns if column.signal == "engine.2.n2"]
    assert n2 == list(column.values)
    limits = _rows(debrief, "limits")
    assert len([row for row in limits if row["trace"] == 1]) == len(records[0].limits) > 0
    early = number_of(debrief, "watch.fuel_early.2")
    assert {"trace": None, "finding": early, "signal": "engine.2.n2", "value": 25.0, "label": "minimum N2 for fuel"} in limits  # fmt: skip


def test_a_word_has_its_own_column(debrief: DebriefData) -> None:
    """A switch's value is a word without a number, a pressure's a number without a word."""
    rows = _rows(debrief, "evidence")
    doors = [row for row in rows if row["signal"] == "door.hold.2"]
    speeds = [row for row in rows if row["signal"] == "engine.2.n2"]
    assert {row["word"] for row in doors} == {"open", "closed"}
    assert all(row["value"] is None for row in doors)
    assert all(isinstance(row["value"], float) and row["word"] is None for row in speeds)


def test_the_seats(debrief: DebriefData) -> None:
    """Each seat has its title and its last person."""
    assert [(row["seat"], row["title"], row["person"]) for row in _rows(debrief, "seats")] == [
        ("captain", "Captain", "Heron"),
        ("first_officer", "First officer", "Plover"),
    ]


def test_flows_cover_the_session(debrief: DebriefData) -> None:
    """The left aft pump is open up to when it was switched on, in its phase and seat, and met from then on."""
    (detail,) = [one for one in debrief.findings if one.finding.item == "flow.before_start.pump_left_aft"]
    rows = [row for row in _rows(debrief, "flows") if row["item"] == detail.finding.item]
    assert {(row["flow"], row["phase"], row["seat"]) for row in rows} == {("before_start", "before_start", "first_officer")}  # fmt: skip
    (lasting,) = [row for row in rows if row["from_s"] <= detail.at_s < row["to_s"]]
    assert (lasting["status"], lasting["to_s"]) == ("open", detail.closed_at_s)
    assert [row["status"] for row in rows if row["from_s"] == detail.closed_at_s] == ["met"]


def test_gates_have_their_spare_time(debrief: DebriefData) -> None:
    """The spare time of a gate is the time from its readiness to its entry, empty if it was not ready."""
    by_gate = {row["gate"]: row for row in _rows(debrief, "gates")}
    start = by_gate["before_start"]
    (passage,) = [gate.passage for gate in debrief.gates if gate.passage.gate == "before_start"]
    assert passage.entered_s is not None
    assert passage.ready_s is not None
    assert start["spare_s"] == pytest.approx(passage.entered_s - passage.ready_s)
    assert start["spare_s"] > 0
    assert by_gate["push_back"]["spare_s"] is None
    assert by_gate["high_speed"]["entered_at_s"] is None


def test_faults_are_in_the_row_of_the_session(debrief: DebriefData) -> None:
    """Faults are joined in one cell, which is '' without faults."""
    (complete,) = _rows(debrief, "session")
    (cut,) = _rows(replace(debrief, faults=("It breaks off.", "More is missing.")), "session")
    assert (complete["faults"], cut["faults"]) == ("", "It breaks off. More is missing.")
    assert complete["to_s"] == debrief.to_s


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1 kt", "@SUM(A1)", "\t=1", "\r=1"])
def test_a_text_like_a_formula_is_escaped(text: str, tmp_path: Path) -> None:
    """Such a text has an apostrophe before it, a negative number has not."""
    (path,) = save_csv([DebriefTable("one", {"text": "text", "value": "number"}, [(text, -1.5)])], tmp_path)
    with path.open(newline="", encoding="utf-8") as file:
        _, (escaped, number) = csv.reader(file)
    assert (escaped, number) == (f"'{text}", "-1.5")


def test_line_ends_and_quotes_follow_the_standard(tmp_path: Path) -> None:
    """Lines end in CR LF; texts with commas, quotation marks or line ends are quoted (RFC 4180)."""
    (path,) = save_csv([DebriefTable("one", {"text": "text"}, [('a, "b"\nc',), (None,)])], tmp_path)
    assert path.read_bytes() == b'text\r\n"a, ""b""\nc"\r\n""\r\n'


def test_an_empty_table_keeps_its_types(tmp_path: Path) -> None:
    """A table without rows has typed columns."""
    import pyarrow.parquet as pq

    columns = {"a": "text", "b": "number", "c": "integer", "d": "boolean"}
    (path,) = save_parquet([DebriefTable("none", columns, [])], tmp_path)
    table = pq.read_table(path)
    assert table.num_rows == 0
    assert [str(kind) for kind in table.schema.types] == ["string", "double", "int64", "bool"]


def test_without_pyarrow_the_fault_says_how_to_install_it(
    recording: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Both functions that need pyarrow name the command that installs it, and write no file."""
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert "pip install 'holdshort[report]'" in INSTALL_HINT
    with pytest.raises(InputFaults, match="Parquet needs pyarrow: pip install"):
        save_parquet([], tmp_path)
    with pytest.raises(InputFaults, match="Parquet needs pyarrow: pip install"):
        save_samples(open_recording(recording), tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_calculated_sum_is_right(debrief: DebriefData) -> None:
    """The zero-fuel mass is the sum of the two masses of the trip sheet."""
    values = {row["label"]: row["value"] for row in _rows(debrief, "trip_sheet")}
    masses = [float(values[label].removesuffix(" kg").replace(" ", "")) for label in ("sheet empty mass", "sheet load")]  # fmt: skip
    assert values["zero-fuel mass"] == format_value(sum(masses), "kg")


def test_the_document_lists_every_column(debrief: DebriefData) -> None:
    """The table of the document has each table with its columns in their order, and no other."""
    section = (
        README.read_text(encoding="utf-8").partition("| table | columns | contains |")[2].partition("\n\n")[0]
    )
    rows = [line.split(" | ") for line in section.splitlines() if line.startswith("| `")]
    listed = {name.strip("| `"): re.findall("`([^`]+)`", columns) for name, columns, *_ in rows}
    assert listed == {table.name: list(table.columns) for table in debrief_tables(debrief)}
