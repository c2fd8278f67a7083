"""Writes the tables of a session as CSV (RFC 4180), one JSON document and Parquet.

In CSV a text that a spreadsheet would read as a formula (it begins with = + - or @) gets an apostrophe before it; in JSON and
Parquet it is unchanged.

Takes: tables, a folder.  Gives: files.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from bridge.common.disclaimer import SHORT_DISCLAIMER
from bridge.debrief.tables import BOOLEAN, INTEGER, NUMBER, TEXT, Cell, DebriefTable
from bridge.debrief.time_axis import TimeAxis
from bridge.recording.reader import Recording
from bridge.rejudge.load_input_log import InputLogLoader
from rules.faults import Fault, InputFaults, Place

INSTALL_HINT = "Parquet needs pyarrow: pip install 'holdshort[report]'"
_FORMULA_PREFIXES = ("=", "+", "-", "@", "\t", "\r")


def save_csv(tables: Sequence[DebriefTable], folder: Path) -> list[Path]:
    """Write each table to a file with a header line; an unknown value is an empty cell."""
    written = []
    for table in tables:
        path = folder / f"{table.name}.csv"
        with path.open("w", newline="", encoding="utf-8") as file:
            out = csv.writer(file)
            out.writerow(table.columns)
            out.writerows([_escape_formula(cell) for cell in row] for row in table.rows)
        written.append(path)
    return written


def save_json(tables: Sequence[DebriefTable], path: Path) -> Path:
    """Write all tables as one object: by the name of each table its rows as objects."""
    document: dict[str, Any] = {"disclaimer": SHORT_DISCLAIMER}
    for table in tables:
        document[table.name] = [dict(zip(table.columns, row, strict=True)) for row in table.rows]
    path.write_bytes(msgspec.json.format(msgspec.json.encode(document), indent=1))
    return path


def save_parquet(tables: Sequence[DebriefTable], folder: Path) -> list[Path]:
    """Write each table to a file with typed columns.

    Raises:
        InputFaults: pyarrow is not installed.
    """
    pa, pq = _import_pyarrow()
    types = {TEXT: pa.string(), NUMBER: pa.float64(), INTEGER: pa.int64(), BOOLEAN: pa.bool_()}
    written = []
    for table in tables:
        path = folder / f"{table.name}.parquet"
        columns = list(zip(*table.rows, strict=True)) or [()] * len(table.columns)
        schema = pa.schema([(name, types[kind]) for name, kind in table.columns.items()])
        arrays = [pa.array(list(column), kind) for column, kind in zip(columns, schema.types, strict=True)]
        pq.write_table(pa.table(arrays, schema=schema), path)
        written.append(path)
    return written


def save_samples(recording: Recording, folder: Path) -> list[Path]:
    """Write every sample of a recording in the order of arrival, as Parquet and CSV.

    Columns: `at_s`, `utc`, `signal`, and `value` for a number or `word` for a word; both are empty if the sender marked the
    value as invalid.

    Raises:
        InputFaults: pyarrow is not installed.
    """
    pa, pq = _import_pyarrow()
    import pyarrow.csv as pc

    loaded = InputLogLoader(recording, lambda *_: None).load()
    inputs = loaded.input_log
    counts = np.array(inputs.counts, np.int64)
    numbers = np.frombuffer(inputs.floats).copy() if len(inputs.floats) else np.empty(0)
    words: list[str | None] = [None] * len(numbers)
    for index, value in inputs.others.items():
        words[index] = value if isinstance(value, str) else None
        numbers[index] = value if isinstance(value, float | int) else np.nan
    table = pa.table(
        {
            "at_s": np.repeat(TimeAxis(loaded).times_s, counts),
            "utc": np.repeat(np.array(loaded.utc), counts),
            "signal": pa.array(inputs.names, pa.string()).dictionary_encode(),
            "value": pa.array(numbers, from_pandas=True),
            "word": pa.array(words, pa.string()),
        }
    )
    pq.write_table(table, folder / "samples.parquet", compression="zstd")
    plain = table.set_column(2, "signal", table["signal"].cast(pa.string()))
    escaped = pa.array([_escape_formula(word) if word else word for word in words], pa.string())
    pc.write_csv(plain.set_column(4, "word", escaped), folder / "samples.csv")
    return [folder / "samples.parquet", folder / "samples.csv"]


def _escape_formula(cell: Cell) -> Cell:
    """Escape a text that a spreadsheet would read as a formula; None becomes ''."""
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
