"""Writes the tables of a session: CSV (RFC 4180), one JSON document, Parquet.

A text that a spreadsheet would take for a formula (it begins with = + - or @) gets an apostrophe before it in CSV; JSON and
Parquet have it as it was.

Takes: tables, a folder.  Gives: files.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from bridge.debrief.tables import Cell, DebriefTable
from bridge.debrief.time_axis import TimeAxis
from bridge.recording.reader import Recording
from bridge.rejudge.load_input_log import InputLogLoader
from bridge.terminal.live_view import SHORT_CAUTION
from rules.faults import Fault, InputFaults, Place

INSTALL_HINT = "Parquet needs pyarrow: pip install 'holdshort[report]'"
_FORMULA_PREFIXES = ("=", "+", "-", "@", "\t", "\r")


def save_csv(tables: Sequence[DebriefTable], folder: Path) -> list[Path]:
    """Each table as a file, its columns named in the first line; an empty cell is one that is not known."""
    written = []
    for sheet in tables:
        path = folder / f"{sheet.name}.csv"
        with path.open("w", newline="", encoding="utf-8") as file:
            out = csv.writer(file)
            out.writerow(sheet.columns)
            out.writerows([_escape_formula(cell) for cell in row] for row in sheet.rows)
        written.append(path)
    return written


def save_json(tables: Sequence[DebriefTable], path: Path) -> Path:
    """All tables as one object: the name of each, and its rows as objects."""
    plain: dict[str, Any] = {"caution": SHORT_CAUTION}
    for sheet in tables:
        plain[sheet.name] = [dict(zip(sheet.columns, row, strict=True)) for row in sheet.rows]
    path.write_bytes(msgspec.json.format(msgspec.json.encode(plain), indent=1))
    return path


def save_parquet(tables: Sequence[DebriefTable], folder: Path) -> list[Path]:
    """Each table as a file with typed columns.

    Raises:
        InputFaults: the library is not installed.
    """
    pa, pq = _import_pyarrow()
    types = {"text": pa.string(), "number": pa.float64(), "whole": pa.int64(), "yes or no": pa.bool_()}
    written = []
    for sheet in tables:
        path = folder / f"{sheet.name}.parquet"
        columns = list(zip(*sheet.rows, strict=True)) or [()] * len(sheet.columns)
        schema = pa.schema([(name, types[kind]) for name, kind in sheet.columns.items()])
        arrays = [pa.array(list(column), kind) for column, kind in zip(columns, schema.types, strict=True)]
        pq.write_table(pa.table(arrays, schema=schema), path)
        written.append(path)
    return written


def save_samples(recording: Recording, folder: Path) -> list[Path]:
    """Every sample of a recording in the order of their coming, as Parquet and CSV.

    Columns: `at_s`, `utc`, `signal`, and `value` for a number or `word` for a word; neither where the sender said that there
    is none.

    Raises:
        InputFaults: the library is not installed.
    """
    pa, pq = _import_pyarrow()
    import pyarrow.csv as pc

    taped = InputLogLoader(recording, lambda *_: None).load()
    counts = np.array(taped.input_log.counts, np.int64)
    number = np.frombuffer(taped.input_log.floats).copy() if len(taped.input_log.floats) else np.empty(0)
    odd = taped.input_log.others
    words: list[str | None] = [None] * len(number)
    for place, value in odd.items():
        words[place] = value if isinstance(value, str) else None
        number[place] = value if isinstance(value, float | int) else np.nan
    table = pa.table(
        {
            "at_s": np.repeat(TimeAxis(taped).times_s, counts),
            "utc": np.repeat(np.array(taped.utc), counts),
            "signal": pa.array(taped.input_log.names, pa.string()).dictionary_encode(),
            "value": pa.array(number, from_pandas=True),
            "word": pa.array(words, pa.string()),
        }
    )
    pq.write_table(table, folder / "samples.parquet", compression="zstd")
    plain = table.set_column(2, "signal", table["signal"].cast(pa.string()))
    harmless = pa.array([_escape_formula(word) if word else word for word in words], pa.string())
    pc.write_csv(plain.set_column(4, "word", harmless), folder / "samples.csv")
    return [folder / "samples.parquet", folder / "samples.csv"]


def _escape_formula(cell: Cell) -> Cell:
    """A cell that no spreadsheet takes for a formula; what is not known is empty."""
    if cell is None:
        return ""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA_PREFIXES) else cell


def _import_pyarrow() -> tuple[Any, Any]:
    try:
        import pyarrow as pa
        import pyarrow.parquet as pq
    except ImportError:
        raise InputFaults([Fault(Place("debrief"), INSTALL_HINT)]) from None
    return pa, pq
