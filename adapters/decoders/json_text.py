"""Decodes JSON: one object for each record; a datagram may have several lines, each one record.

Nested objects become dotted names (`{"engine": {"1": {"n2": 25}}}` is `engine.1.n2`), list elements numbered ones
(`wow[0]`).  NaN, infinity, a byte-order mark, bytes after the end and duplicate keys are refused; `null` means no value;
true and false stay truth values.

Takes: one record.  Gives: fields, or a refusal.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import ClassVar

import msgspec

from adapters.decoders.base import DecodedRecord, Decoder, RecordComparer, UnreadableError
from adapters.decoders.flat_records import FlatRecordReader
from adapters.decoders.nested import flatten
from adapters.links.framing import Framing


class JsonDecoder(Decoder):
    """JSON decoder: reads flat objects by their struct type, and flattens nested ones."""

    format: ClassVar[str] = "json"
    framing: ClassVar[Framing] = Framing.LINES
    record_example: ClassVar[str] = "one object; objects inside become `a.b`, lists `a[0]`"
    no_value_forms: ClassVar[str] = "`null`"

    def __init__(self) -> None:
        self._comparer = RecordComparer()
        self._flat_reader = FlatRecordReader(msgspec.json.Decoder)
        self._any_decoder = msgspec.json.Decoder()

    def split(self, data: bytes) -> Sequence[bytes]:
        """Split lines where each is an object of its own; otherwise the lines are one pretty-printed object."""
        if b"\n" not in data[:-1]:
            return (data,)
        lines = [line for line in data.splitlines() if line.strip()]
        separate = all(line.startswith(b"{") and line.rstrip().endswith(b"}") for line in lines)
        return lines if separate else (data,)

    def parse(self, data: bytes) -> DecodedRecord:
        """Read one object."""
        reader = self._flat_reader
        try:
            values = reader.decode(data)
        except msgspec.ValidationError:
            fields = flatten(self._any_decoder.decode(data))
            reader.set_names(tuple(fields))
            values = list(fields.values())
        # msgspec keeps the last of duplicate keys silently. Each member has one colon: as many colons as values
        # prove that no key is duplicated; only other records (nested, colons in texts) need the slow check.
        if data.count(b":") != len(values):
            _reject_duplicate_keys(data)
        return self._comparer.compare(reader.names, values, reader.record_type)

    def hint(self, data: bytes) -> str:
        """Hint at the usual mistakes of JSON senders, otherwise at the format that the bytes look like."""
        if b"NaN" in data or b"Infinity" in data or b"nan" in data:
            return "JSON has no NaN or infinity; send null for no value"
        if data.startswith(b"\xef\xbb\xbf"):
            return "leave out the byte-order mark"
        return super().hint(data)


def _reject_duplicate_keys(data: bytes) -> None:
    """Refuse an object with a duplicate key, since either of its values may be the meant one."""

    def members(pairs: list[tuple[str, object]]) -> None:
        seen: set[str] = set()
        for key, _ in pairs:
            if key in seen:
                raise UnreadableError("duplicate key", key[:60])
            seen.add(key)

    json.loads(data, object_pairs_hook=members)
