"""Decodes MessagePack: one map for each record, with text keys.

Nested maps become dotted names, list elements numbered ones, as in JSON.  NaN and infinity are legal here and mean no
value for their field only.  Refused are keys that are not text, bytes after the end, binary and extension values, and
duplicate keys.  A 32-bit float arrives as the nearest 64-bit one (145.2 as 145.1999969); compare with a tolerance.

Takes: one record.  Gives: fields, or a refusal.
"""

from __future__ import annotations

from typing import ClassVar

import msgpack
import msgspec

from adapters.decoders.base import DecodedRecord, Decoder, RawValue, RecordComparer, UnreadableError
from adapters.decoders.flat_records import FlatRecordReader
from adapters.decoders.nested import flatten


class MsgpackDecoder(Decoder):
    """MessagePack decoder: reads flat maps by their struct type, and flattens nested ones."""

    format: ClassVar[str] = "msgpack"
    record_example: ClassVar[str] = "one map, nested as in JSON"
    no_value_forms: ClassVar[str] = "nil, NaN"

    def __init__(self) -> None:
        self._flat_reader = FlatRecordReader(msgspec.msgpack.Decoder)
        self._comparer = RecordComparer()

    def parse(self, data: bytes) -> DecodedRecord:
        """Read one map."""
        reader = self._flat_reader
        try:
            values = reader.decode(data)
        except msgspec.ValidationError:
            fields = _read_nested(data)
            reader.set_names(tuple(fields))
            values = list(fields.values())
        else:
            if len(values) != _announced_size(data):
                raise UnreadableError("duplicate key")
        return self._comparer.compare(reader.names, values, reader.record_type)


def _announced_size(data: bytes) -> int:
    """Read the number of members that the outer map announces; fewer decoded keys mean a duplicate."""
    first = data[0]
    if first <= 0x8F:
        return first & 0x0F
    return int.from_bytes(data[1:3] if first == 0xDE else data[1:5], "big")


def _read_nested(data: bytes) -> dict[str, RawValue]:
    """Read a map that has maps or lists as values."""

    def members(pairs: list[tuple[object, object]]) -> dict[object, object]:
        fields: dict[object, object] = {}
        for key, value in pairs:
            if not isinstance(key, str):
                raise UnreadableError("key is not text", f"{type(key).__name__} as key")
            if key in fields:
                raise UnreadableError("duplicate key", key[:60])
            fields[key] = value
        return fields

    try:
        tree: object = msgpack.unpackb(data, object_pairs_hook=members, strict_map_key=False, timestamp=0)
    except msgpack.exceptions.StackError:
        raise UnreadableError("nested too deep") from None
    return flatten(tree)
