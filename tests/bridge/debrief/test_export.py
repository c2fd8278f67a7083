"""Tests of the table files: CSV, JSON, Parquet and samples."""

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

TYPES = {"text": str, "number": float | int, "integer": int, "boolean": bool}


@pytest.fixture(scope="module")
def tables(debrief: DebriefData) -> tuple[DebriefTable, ...]:
    """The tables of the flight."""
    return debrief_tables(debrief)


def test_cells_have_the_types_of_their_columns(tables: tuple[DebriefTable, ...]) -> None:
    """Every table but those of gaps and waivers has rows; each row has a cell for each column, of its type or empty."""
    for table in tables:
        assert table.rows or table.name in ("gaps", "waivers"), table.name
        for row in table.rows:
            for (name, kind), cell in zip(table.columns.items(), row, strict=True):
                assert cell is None or isinstance(cell, TYPES[kind]), (table.name, name)


def test_the_files_have_the_same_rows(tables: tuple[DebriefTable, ...], tmp_path: Path) -> None:
    """JSON, Parquet and CSV contain the same rows."""
    document = json.loads(save_json(tables, tmp_path / "session.json").read_text())
    assert "simulation" in document["disclaimer"]
    for table, parquet, comma in zip(
        tables, save_parquet(tables, tmp_path), save_csv(tables, tmp_path), strict=True
    ):
        assert pq.read_table(parquet).to_pylist() == document[table.name]
        with comma.open(newline="", encoding="utf-8") as file:
            header, *rows = csv.reader(file)
        assert header == list(table.columns)
        assert len(rows) == len(table.rows)
        expected = [["" if cell is None else str(cell) for cell in row] for row in table.rows]
        assert [[cell.removeprefix("'") for cell in row] for row in rows] == expected


def test_no_cell_is_a_formula(debrief: DebriefData, tmp_path: Path) -> None:
    """A remark that a spreadsheet would read as a formula has an apostrophe before it in CSV only."""
    evil = replace(
        debrief, remarks=tuple(structs.replace(one, text='=HYPERLINK("x")') for one in debrief.remarks)
    )
    remarks = [table for table in debrief_tables(evil) if table.name == "remarks"]
    (comma,) = save_csv(remarks, tmp_path)
    (parquet,) = save_parquet(remarks, tmp_path)
    assert "'=HYPERLINK" in comma.read_text()
    assert pq.read_table(parquet).to_pylist()[0]["text"].startswith("=HYPERLINK")


def test_every_sample_is_written(recording: Path, tmp_path: Path) -> None:
    """The files contain every change of every frame of the recording, in their order."""
    parquet, comma = save_samples(open_recording(recording), tmp_path)
    recorded = [
        (sample.name, sample.value)
        for line in open_recording(recording).items()
        if isinstance(line.content, Frame)
        for sample in line.content.changes
    ]
    rows = pq.read_table(parquet).to_pylist()
    assert [(r["signal"], r["value"] if r["word"] is None else r["word"]) for r in rows] == recorded
    times = [row["at_s"] for row in rows]
    assert times == sorted(times)
    assert pc.read_csv(comma).num_rows == len(recorded)
