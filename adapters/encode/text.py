"""Encodes records in the text formats: labelled CSV, key=value, JSON.

Takes: a time, a sequence number and values by name.  Gives: datagrams that the decoders of the same names read back.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

import msgspec

from adapters.decoders.base import RawValue
from adapters.decoders.cells import format_cell
from adapters.decoders.labelled_csv import HEADING_MARK
from adapters.encode.base import NUMBER_FIELD, Encoder, record_with_header

CSV_TIME = "Time"


class LabelledCsvEncoder(Encoder):
    """Labelled CSV encoder; sends the heading first, and repeats it for receivers that start later."""

    format: ClassVar[str] = "labelled_csv"

    def __init__(self, heading_interval: int = 0) -> None:
        """Prepare the encoder.

        Args:
            heading_interval: Rows between two headings; 0 sends one only where the names change.
        """
        self._heading_interval = heading_interval
        self._names: tuple[str, ...] = ()
        self._rows_since_heading = 0

    def encode(self, time_s: float, number: int, values: Mapping[str, RawValue]) -> list[bytes]:
        """Write a row, with a heading before it where one is due."""
        record = {CSV_TIME: time_s, NUMBER_FIELD: number, **values}
        names = tuple(record)
        row = (",".join(map(format_cell, record.values())) + "\n").encode()
        due = names != self._names or (
            self._heading_interval > 0 and self._rows_since_heading >= self._heading_interval
        )
        self._rows_since_heading = 1 if due else self._rows_since_heading + 1
        self._names = names
        heading = HEADING_MARK + b" ," + ",".join(map(_label, names)).encode() + b"\n"
        return [heading, row] if due else [row]


class KeyValueEncoder(Encoder):
    """Key=value encoder: one line for each record."""

    format: ClassVar[str] = "key_value"

    def encode(self, time_s: float, number: int, values: Mapping[str, RawValue]) -> list[bytes]:
        """Write one line."""
        record = record_with_header(time_s, number, values)
        return [
            (" ".join(f"{name}={_key_value_cell(value)}" for name, value in record.items()) + "\n").encode()
        ]


class JsonEncoder(Encoder):
    """JSON encoder: one object for each record."""

    format: ClassVar[str] = "json"

    def encode(self, time_s: float, number: int, values: Mapping[str, RawValue]) -> list[bytes]:
        """Write one object; NaN and infinity become null."""
        return [msgspec.json.encode(record_with_header(time_s, number, values)) + b"\n"]


def _label(name: str) -> str:
    """Write a label, with quotes where it contains a comma."""
    return f'"{name}"' if "," in name else name


def _key_value_cell(value: RawValue) -> str:
    """Write a value as in CSV, with quotes also where it contains blanks."""
    text = format_cell(value)
    return f'"{text}"' if " " in text and not text.startswith('"') else text
