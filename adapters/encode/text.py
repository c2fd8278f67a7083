"""Encoders of the text formats: labelled CSV, key=value, JSON.

Takes: a time, a number and values by name.  Gives: datagrams that the decoders of the same names read back.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

import msgspec

from adapters.decoders.base import Raw
from adapters.decoders.labelled_csv import MARK
from adapters.decoders.text import write_cell
from adapters.encode.base import NUMBER, Encoder, whole_record

CSV_TIME = "Time"


class CsvEncoder(Encoder):
    """Labelled CSV; the heading comes first, and again every `again` rows for receivers that come late."""

    format: ClassVar[str] = "labelled_csv"

    def __init__(self, again: int = 0) -> None:
        """Begin with nothing sent.

        Args:
            again: Rows between two headings; 0: only where the names change.
        """
        self._again = again
        self._names: tuple[str, ...] = ()
        self._rows = 0

    def encode(self, time_s: float, number: int, values: Mapping[str, Raw]) -> list[bytes]:
        """A row, with a heading before it where one is due."""
        record = {CSV_TIME: time_s, NUMBER: number, **values}
        names = tuple(record)
        row = (",".join(map(write_cell, record.values())) + "\n").encode()
        due = names != self._names or (self._again > 0 and self._rows >= self._again)
        self._rows = 1 if due else self._rows + 1
        self._names = names
        heading = MARK + b" ," + ",".join(map(_label, names)).encode() + b"\n"
        return [heading, row] if due else [row]


class KeyValueEncoder(Encoder):
    """key=value text, one line a record."""

    format: ClassVar[str] = "key_value"

    def encode(self, time_s: float, number: int, values: Mapping[str, Raw]) -> list[bytes]:
        """One line."""
        record = whole_record(time_s, number, values)
        return [(" ".join(f"{name}={_word(value)}" for name, value in record.items()) + "\n").encode()]


class JsonEncoder(Encoder):
    """JSON, one object a record."""

    format: ClassVar[str] = "json"

    def encode(self, time_s: float, number: int, values: Mapping[str, Raw]) -> list[bytes]:
        """One object; a number that JSON cannot say becomes null."""
        return [msgspec.json.encode(whole_record(time_s, number, values)) + b"\n"]


def _label(name: str) -> str:
    """A label; one with a comma in it needs quotes."""
    return f'"{name}"' if "," in name else name


def _word(value: Raw) -> str:
    """A value of key=value text: as in CSV, but blanks inside need quotes too."""
    text = write_cell(value)
    return f'"{text}"' if " " in text and not text.startswith('"') else text
