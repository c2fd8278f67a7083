r"""Decodes rows of comma-separated values, named by a heading that is sent once.

A heading is `<LABELS> ,Time,label,label,...`; the text before the first comma is not a column.  A row is
`0.5, 12.3, 359.9`, with a value for each label; blanks around a value and `\r\n` are ignored.  A receiver that missed the
heading uses the column order of its map file.  A duplicate label names no column; its columns can only be bound by
position.  The grammar of a cell is in `cells`.

Takes: one row or heading.  Gives: fields, column names, or a refusal.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from itertools import compress
from operator import ne
from typing import ClassVar

from adapters.decoders.base import (
    MAX_FIELDS,
    ColumnHeading,
    DecodedRecord,
    Decoder,
    RawValue,
    UnreadableError,
)
from adapters.decoders.cells import parse_cell, parse_numbers
from adapters.links.framing import Framing

HEADING_MARK = b"<LABELS>"
_CELL = re.compile(rb'(?:^|,)(\s*"(?:[^"]|"")*"\s*|[^,]*)')


class LabelledCsvDecoder(Decoder):
    """Labelled CSV decoder; compares a row with the last one and parses only the cells that differ."""

    format: ClassVar[str] = "labelled_csv"
    framing: ClassVar[Framing] = Framing.LINES
    record_example: ClassVar[str] = "`<LABELS> ,Time,a,b` once, then rows `0.5,12.3,off`"
    no_value_forms: ClassVar[str] = "empty, `nan`, `inf`"

    def __init__(self, columns: Sequence[str] = ()) -> None:
        """Prepare the decoder.

        Args:
            columns: The column names until a heading arrives, in the sender's order; without them, columns have
                positions only.
        """
        self._names, self._ambiguous = _blank_duplicates(columns)
        self._columns_known = bool(columns)
        self._cells: list[bytes] = []
        self._values: list[RawValue] = []
        self._last_wrong_width = 0

    def split(self, data: bytes) -> Sequence[bytes]:
        """Split a datagram into lines; each is one record."""
        return data.splitlines() if b"\n" in data[:-1] else (data,)

    def is_essential(self, data: bytes) -> bool:
        """Tell whether the bytes are a heading, which is sent only once."""
        return data.lstrip().startswith(HEADING_MARK)

    def parse(self, data: bytes) -> DecodedRecord | ColumnHeading:
        """Read a heading or a row."""
        if self.is_essential(data):
            return self._read_heading(data)
        cells = self._cells_of(data)
        base = self._values if len(self._cells) == len(cells) else None
        if base is not None:
            changed = list(compress(range(len(cells)), map(ne, cells, self._cells)))
            values = base.copy()
        else:
            changed = list(range(len(cells)))
            values = [None] * len(cells)
        texts = [cells[index] for index in changed]
        parsed = parse_numbers(texts)
        if parsed is None:
            parsed = [
                parse_cell(text, self._column_name(index)) for index, text in zip(changed, texts, strict=True)
            ]
        for index, value in zip(changed, parsed, strict=True):
            values[index] = value
        self._cells, self._values = cells, values
        return DecodedRecord(self._names, values, base, changed)

    def _read_heading(self, data: bytes) -> ColumnHeading:
        """Read the labels and use them from now on."""
        labels = [label.strip().decode("utf-8") for label in _split_cells(data)[1:]]
        if labels and not labels[-1]:
            labels.pop()
        if not labels:
            raise UnreadableError("heading without labels")
        self._names, self._ambiguous = _blank_duplicates([label.strip('"') for label in labels])
        self._columns_known, self._cells = True, []
        return ColumnHeading(self._names, self._ambiguous)

    def _cells_of(self, data: bytes) -> list[bytes]:
        """Split a row into cells; refuse it unless there is one for each column."""
        cells = data.rstrip(b"\r\n").split(b",")
        if len(cells) != len(self._names):
            # Quotes matter only where a comma inside them gives too many cells.
            cells = _split_cells(data)
            self._check_width(cells, data)
        else:
            self._last_wrong_width = 0
        return cells

    def _check_width(self, cells: list[bytes], data: bytes) -> None:
        """Refuse a row of the wrong width; without known columns, a width that comes twice is accepted."""
        if len(cells) == len(self._names) + 1 and not cells[-1].strip():
            cells.pop()
        if len(cells) == len(self._names):
            self._last_wrong_width = 0
            return
        if not self._columns_known and (not self._names or self._last_wrong_width == len(cells)):
            self._names = ("",) * min(len(cells), MAX_FIELDS)
            self._cells, self._last_wrong_width = [], 0
            return
        self._last_wrong_width = len(cells)
        # A decimal comma doubles the number of cells.
        comma = b";" in data or len(cells) >= 2 * len(self._names) - 1 > 1
        hint = "decimal comma? numbers are written with a point" if comma else ""
        why = "row too short" if len(cells) < len(self._names) else "row too long"
        raise UnreadableError(why, f"{len(cells)} values for {len(self._names)} columns", hint)

    def _column_name(self, index: int) -> str:
        """Name a column for a refusal."""
        return self._names[index] or f"column {index + 1}"


def _split_cells(data: bytes) -> list[bytes]:
    """Split one line into cells; a comma inside quotes does not separate."""
    line = data.rstrip(b"\r\n")
    return _CELL.findall(line) if b'"' in line else line.split(b",")


def _blank_duplicates(labels: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Replace each duplicate label by '', and list the duplicates."""
    if len(labels) > MAX_FIELDS:
        raise UnreadableError("too many labels", f"{len(labels)}, at most {MAX_FIELDS}")
    duplicates = {label for label, count in Counter(labels).items() if label and count > 1}
    return tuple("" if label in duplicates else label for label in labels), tuple(sorted(duplicates))
