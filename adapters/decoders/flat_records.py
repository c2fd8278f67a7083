"""Reads flat JSON and MessagePack records quickly, with a struct type made for the sender's fields.

A sender usually sends the same fields in every record.  A parser for exactly these fields compares the key texts in
place and does not create them again for each record, which is about three times as fast.

    record 1..3      parsed as dict, layout counted
    record 4         parsed as dict, struct type made for its names
    record 5..       parsed by the struct type
    another layout   back to dict; the next type is made after twice as many records, so that a sender whose layout
                     keeps changing does not pay for a type each time

Takes: records of JSON or MessagePack.  Gives: names and values where the record is flat.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import msgspec

from adapters.decoders.base import RawValue

FlatRecord = dict[str, float | int | str | bool | None]
_RECORDS_BEFORE_TYPE = 4
"""Records of one layout before a type is made for it; doubled each time that the layout changes."""


class FlatRecordReader:
    """Reads flat records and remembers their layout.

    Attributes:
        names: The names of the fields of the last record, the same object while the layout stays.
        record_type: The same object for records that were read by the type of their layout, in which a field is a
            boolean in all records or in none; None for a record that was read without a type.
    """

    def __init__(self, make_decoder: Callable[[Any], Any]) -> None:
        """Prepare the general decoder.

        Args:
            make_decoder: Makes a decoder for a type: `msgspec.json.Decoder` or `msgspec.msgpack.Decoder`.
        """
        self._make_decoder = make_decoder
        self._flat_decoder = make_decoder(FlatRecord)
        self._row_decoder: Any = None
        self._same_layout_count = 0
        self._needed = _RECORDS_BEFORE_TYPE
        self.names: tuple[str, ...] = ()
        self.record_type: object = None

    def decode(self, data: bytes) -> list[RawValue]:
        """Read the values of one record and set `names`, the same object while the layout stays.

        Raises:
            msgspec.ValidationError: The record is not flat, or a key is not text.
            msgspec.DecodeError: The bytes are not of the format.
        """
        if self._row_decoder is not None:
            try:
                values = list(msgspec.structs.astuple(self._row_decoder.decode(data)))
            except msgspec.ValidationError:
                self._row_decoder, self._same_layout_count, self._needed = None, 0, 2 * self._needed
            else:
                self.record_type = self._row_decoder
                return values
        self.record_type = None
        fields: dict[str, RawValue] = self._flat_decoder.decode(data)
        self.set_names(tuple(fields))
        self._same_layout_count += 1
        if self._same_layout_count == self._needed and all(map(_valid_field_name, self.names)):
            self._row_decoder = self._make_decoder(_row_type(fields))
        return list(fields.values())

    def set_names(self, names: tuple[str, ...]) -> None:
        """Set the names of the current record; a new layout resets the count."""
        if names != self.names:
            self.names, self._same_layout_count = names, 0


def _valid_field_name(name: str) -> bool:
    """Tell whether a struct type can have a field of this name."""
    return name.isprintable() and '"' not in name and "\\" not in name


def _row_type(fields: FlatRecord) -> type[msgspec.Struct]:
    """Make a struct type that has exactly these fields, all of them required, booleans only where there is one now."""
    wire = {f"field_{number}": name for number, name in enumerate(fields)}
    kinds: dict[str, Any] = {
        place: bool | None if isinstance(fields[name], bool) else float | int | str | None
        for place, name in wire.items()
    }
    return msgspec.defstruct(
        "Row",
        list(kinds.items()),
        rename=wire,
        forbid_unknown_fields=True,
    )
