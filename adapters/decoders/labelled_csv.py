r"""Rows of values separated by commas, named by a heading that comes once.

A heading is `<LABELS> ,Time,label,label,...`: what stands before the first comma is no column. A row is
`0.5, 12.3, 359.9`, with a value for each label; blanks around a value and `\r\n` do no harm. A receiver that came
too late for the heading uses the column order of its map file. A label that stands twice names nothing: its
columns can only be bound by position. Cells are as `text` has them.

Takes: one row or heading.  Gives: fields, or names, or a refusal.
"""

from __future__ import annotations

import re
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
    """The decoder; it remembers the heading, and the text of the last row so as to read only what changed."""

    format: ClassVar[str] = "labelled_csv"
    framing: ClassVar[Framing] = Framing.LINES

    def __init__(self, columns: Sequence[str] = ()) -> None:
        """Begin without heading.

        Args:
            columns: The names to use until a heading comes, in the sender's order; none: positions only.
        """
        self._names, self._ambiguous = _blank_duplicates(columns)
        self._columns_known = bool(columns)
        self._cells: list[bytes] = []
        self._values: list[RawValue] = []
        self._last_wrong_width = 0

    def split(self, data: bytes) -> Sequence[bytes]:
        """Each line is a record."""
        return data.splitlines() if b"\n" in data[:-1] else (data,)

    def is_essential(self, data: bytes) -> bool:
        """A heading comes once only."""
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
        found = parse_numbers(texts)
        if found is None:
            found = [
                parse_cell(text, self._column_name(index)) for index, text in zip(changed, texts, strict=True)
            ]
        for index, value in zip(changed, found, strict=True):
            values[index] = value
        self._cells, self._values = cells, values
        return DecodedRecord(self._names, values, base, changed)

    def _read_heading(self, data: bytes) -> ColumnHeading:
        """Learn the labels."""
        labels = [label.strip().decode("utf-8") for label in _split_cells(data)[1:]]
        if labels and not labels[-1]:
            labels.pop()
        if not labels:
            raise UnreadableError("a heading without labels")
        self._names, self._ambiguous = _blank_duplicates([label.strip('"') for label in labels])
        self._columns_known, self._cells = True, []
        return ColumnHeading(self._names, self._ambiguous)

    def _cells_of(self, data: bytes) -> list[bytes]:
        """The cells of a row: one for each column, or the row is refused."""
        cells = data.rstrip(b"\r\n").split(b",")
        if len(cells) != len(self._names):
            # A comma inside quotes makes too many cells, so that only then quotes need a closer look.
            cells = _split_cells(data)
            self._check_width(cells, data)
        else:
            self._last_wrong_width = 0
        return cells

    def _check_width(self, cells: list[bytes], data: bytes) -> None:
        """Refuse a row that has not one value for each column."""
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
        comma = b";" in data or len(cells) >= 2 * len(self._names) - 1 > 1
        hint = "decimal comma? numbers are written with a point" if comma else ""
        why = "row too short" if len(cells) < len(self._names) else "row too long"
        raise UnreadableError(why, f"{len(cells)} values for {len(self._names)} columns", hint)

    def _column_name(self, index: int) -> str:
        """What a column is called in a refusal."""
        return self._names[index] or f"column {index + 1}"


def _split_cells(data: bytes) -> list[bytes]:
    """The cells of one line; a comma inside quotes does not part them."""
    line = data.rstrip(b"\r\n")
    return _CELL.findall(line) if b'"' in line else line.split(b",")


def _blank_duplicates(labels: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The labels with '' for each that stands more than once, and which those were."""
    if len(labels) > MAX_FIELDS:
        raise UnreadableError("too many labels", f"{len(labels)}, at most {MAX_FIELDS}")
    twice = (
        {label for label in labels if label and labels.count(label) > 1}
        if len(set(labels)) < len(labels)
        else set()
    )
    return tuple("" if label in twice else label for label in labels), tuple(sorted(twice))
