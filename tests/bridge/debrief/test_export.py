"""Tables, and what of them is in the files."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import pyarrow.csv as pc
import pyarrow.parquet as pq
import pytest
from msgspec import structs

from bridge.debrief.export import save_csv, save_json, save_parquet, save_samples
from bridge.debrief.model import DebriefData
from bridge.debrief.tables import DebriefTable, debrief_tables
from bridge.recording.reader import open_recording
from rules.signals.model import Frame

TYPES = {"text": str, "number": float | int, "whole": int, "yes or no": bool}


@pytest.fixture(scope="module")
def tables(account: DebriefData) -> tuple[DebriefTable, ...]:
    """The tables of the flight."""
    return debrief_tables(account)


def test_cells_are_of_their_types(tables: tuple[DebriefTable, ...]) -> None:
    """Every row has a cell for each column, of the column's type or empty; every table but that of faults has rows."""
    for sheet in tables:
        assert sheet.rows or sheet.name == "faults", sheet.name
        for row in sheet.rows:
            for (name, kind), cell in zip(sheet.columns.items(), row, strict=True):
                assert cell is None or isinstance(cell, TYPES[kind]), (sheet.name, name)


def test_the_files_say_the_same(tables: tuple[DebriefTable, ...], tmp_path: Path) -> None:
    """JSON, Parquet and CSV hold the same rows."""
    plain = json.loads(save_json(tables, tmp_path / "session.json").read_text())
    assert "simulation" in plain["caution"]
    for sheet, parquet, comma in zip(
        tables, save_parquet(tables, tmp_path), save_csv(tables, tmp_path), strict=True
    ):
        assert pq.read_table(parquet).to_pylist() == plain[sheet.name]
        with comma.open(newline="", encoding="utf-8") as file:
            header, *rows = csv.reader(file)
        assert header == list(sheet.columns)
        assert len(rows) == len(sheet.rows)
        said = [["" if cell is None else str(cell) for cell in row] for row in sheet.rows]
        assert [[cell.removeprefix("'") for cell in row] for row in rows] == said


def test_no_cell_is_a_formula(account: DebriefData, tmp_path: Path) -> None:
    """A remark that a spreadsheet would reckon with has an apostrophe before it in CSV, and none elsewhere."""
    evil = replace(
        account, remarks=tuple(structs.replace(one, text='=HYPERLINK("x")') for one in account.remarks)
    )
    remarks = [sheet for sheet in debrief_tables(evil) if sheet.name == "remarks"]
    (comma,) = save_csv(remarks, tmp_path)
    (parquet,) = save_parquet(remarks, tmp_path)
    assert "'=HYPERLINK" in comma.read_text()
    assert pq.read_table(parquet).to_pylist()[0]["text"].startswith("=HYPERLINK")


def test_every_sample_is_there(recording: Path, tmp_path: Path) -> None:
    """The samples in the files are those of the recording, one for each change of each frame, in their order."""
    parquet, comma = save_samples(open_recording(recording), tmp_path)
    told = [
        (sample.name, sample.value)
        for line in open_recording(recording).items()
        if isinstance(line.content, Frame)
        for sample in line.content.changes
    ]
    rows = pq.read_table(parquet).to_pylist()
    assert [(r["signal"], r["value"] if r["word"] is None else r["word"]) for r in rows] == told
    times = [row["at_s"] for row in rows]
    assert times == sorted(times)
    assert pc.read_csv(comma).num_rows == len(told)
