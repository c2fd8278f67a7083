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

from adapters.decoders.base import Decoded, Decoder, Raw, Sieve, Unreadable
from adapters.decoders.nested import flatten
from adapters.decoders.shape import Shape


class MsgpackMap(Decoder):
    """The decoder: flat maps the fast way, others flattened."""

    format: ClassVar[str] = "msgpack"

    def __init__(self) -> None:
        """Begin with no layout known."""
        self._shape = Shape(msgspec.msgpack.Decoder)
        self._sieve = Sieve()

    def read(self, data: bytes) -> Decoded:
        """Read one map."""
        shape = self._shape
        try:
            values = shape.read(data)
        except msgspec.ValidationError:
            fields = _nested(data)
            shape.layout(tuple(fields))
            values = list(fields.values())
        else:
            if len(values) != _announced(data):
                raise Unreadable("the same key twice")
        return self._sieve.clean(shape.names, values)


def _announced(data: bytes) -> int:
    """How many members the outer map says it has; fewer keys than that means that one stood twice."""
    first = data[0]
    if first <= 0x8F:
        return first & 0x0F
    return int.from_bytes(data[1:3] if first == 0xDE else data[1:5], "big")


def _nested(data: bytes) -> dict[str, Raw]:
    """Read a map whose values are not all plain ones."""

    def members(pairs: list[tuple[object, object]]) -> dict[object, object]:
        found: dict[object, object] = {}
        for key, value in pairs:
            if not isinstance(key, str):
                raise Unreadable("a key that is not text", f"{type(key).__name__} as key")
            if key in found:
                raise Unreadable("the same key twice", key[:60])
            found[key] = value
        return found

    try:
        tree: object = msgpack.unpackb(data, object_pairs_hook=members, strict_map_key=False, timestamp=0)
    except msgpack.exceptions.StackError:
        raise Unreadable("nested too deep") from None
    return flatten(tree)
