"""MessagePack: one map for each record, with text for keys.

Maps inside maps become dotted names, lists numbered ones, as in JSON. NaN and infinity are legal here and mean
"no value" for their field only. Refused: other keys than text, bytes after the end, binary and extension values,
the same key twice. A 32-bit float arrives as the nearest 64-bit one (145.2 as 145.1999969): compare with a tolerance.

Takes: one record.  Gives: fields, or a refusal.
"""

from __future__ import annotations

from typing import ClassVar

import msgpack
import msgspec

from adapters.decoders.base import DecodedRecord, Decoder, NonFiniteFilter, RawValue, UnreadableError
from adapters.decoders.flat_records import FlatRecordReader
from adapters.decoders.nested import flatten


class MsgpackDecoder(Decoder):
    """The decoder: flat maps the fast way, others flattened."""

    format: ClassVar[str] = "msgpack"

    def __init__(self) -> None:
        """Begin with no layout known."""
        self._flat_reader = FlatRecordReader(msgspec.msgpack.Decoder)
        self._non_finite = NonFiniteFilter()

    def parse(self, data: bytes) -> DecodedRecord:
        """Read one map."""
        shape = self._flat_reader
        try:
            values = shape.decode(data)
        except msgspec.ValidationError:
            fields = _read_nested(data)
            shape.set_names(tuple(fields))
            values = list(fields.values())
        else:
            if len(values) != _announced_size(data):
                raise UnreadableError("the same key twice")
        return self._non_finite.clean(shape.names, values)


def _announced_size(data: bytes) -> int:
    """How many members the outer map says it has; fewer keys than that means that one stood twice."""
    first = data[0]
    if first <= 0x8F:
        return first & 0x0F
    return int.from_bytes(data[1:3] if first == 0xDE else data[1:5], "big")


def _read_nested(data: bytes) -> dict[str, RawValue]:
    """Read a map whose values are not all plain ones."""

    def members(pairs: list[tuple[object, object]]) -> dict[object, object]:
        found: dict[object, object] = {}
        for key, value in pairs:
            if not isinstance(key, str):
                raise UnreadableError("a key that is not text", f"{type(key).__name__} as key")
            if key in found:
                raise UnreadableError("the same key twice", key[:60])
            found[key] = value
        return found

    try:
        tree: object = msgpack.unpackb(data, object_pairs_hook=members, strict_map_key=False, timestamp=0)
    except msgpack.exceptions.StackError:
        raise UnreadableError("nested too deep") from None
    return flatten(tree)
