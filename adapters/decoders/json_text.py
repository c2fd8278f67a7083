"""JSON: one object for each record; several lines in one datagram are several records.

Objects inside objects become dotted names (`{"engine": {"1": {"n2": 25}}}` is `engine.1.n2`), lists numbered ones
(`wow[0]`). Strict: NaN, infinity, a byte-order mark, bytes after the end and the same key twice are refused;
`null` says that there is no value; true and false stay truth values.

Takes: one record.  Gives: fields, or a refusal.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import ClassVar

import msgspec

from adapters.decoders.base import DecodedRecord, Decoder, UnreadableError
from adapters.decoders.flat_records import FlatRecordReader
from adapters.decoders.nested import flatten
from adapters.links.framing import Framing


class JsonDecoder(Decoder):
    """The decoder: flat objects the fast way, others flattened."""

    format: ClassVar[str] = "json"
    framing: ClassVar[Framing] = Framing.LINES

    def __init__(self) -> None:
        """Begin with no layout known."""
        self._flat_reader = FlatRecordReader(msgspec.json.Decoder)
        self._any_decoder = msgspec.json.Decoder()

    def split(self, data: bytes) -> Sequence[bytes]:
        """Lines are records where each begins an object of its own; otherwise one object was laid out in lines."""
        if b"\n" not in data[:-1]:
            return (data,)
        lines = [line for line in data.splitlines() if line.strip()]
        apart = all(line.startswith(b"{") and line.rstrip().endswith(b"}") for line in lines)
        return lines if apart else (data,)

    def parse(self, data: bytes) -> DecodedRecord:
        """Read one object."""
        shape = self._flat_reader
        try:
            values = shape.decode(data)
        except msgspec.ValidationError:
            fields = flatten(self._any_decoder.decode(data))
            shape.set_names(tuple(fields))
            values = list(fields.values())
        # Each member has one colon of its own: where there are no more, no key stood twice.
        if data.count(b":") != len(values):
            _reject_duplicate_keys(data)
        return DecodedRecord(shape.names, values)

    def hint(self, data: bytes) -> str:
        """What went wrong with JSON in particular."""
        if b"NaN" in data or b"Infinity" in data or b"nan" in data:
            return "JSON has no NaN or infinity; send null for no value"
        if data.startswith(b"\xef\xbb\xbf"):
            return "leave out the byte-order mark"
        return super().hint(data)


def _reject_duplicate_keys(data: bytes) -> None:
    """Refuse an object in which a key stands twice: which of the two is meant nobody can say."""

    def members(pairs: list[tuple[str, object]]) -> None:
        seen: set[str] = set()
        for key, _ in pairs:
            if key in seen:
                raise UnreadableError("the same key twice", key[:60])
            seen.add(key)

    json.loads(data, object_pairs_hook=members)
