"""Encodes records as packed binary by a layout.

Takes: a layout; a time, a sequence number and values by name.  Gives: one datagram that the layout's decoder reads back.
"""

from __future__ import annotations

import math
import struct
import zlib
from collections.abc import Mapping
from typing import ClassVar

from adapters.decoders.base import RawValue
from adapters.decoders.struct_layout import Endian, StructField, StructLayout
from adapters.encode.base import Encoder


class PackedStructEncoder(Encoder):
    """Packed record encoder for one layout; a field without a value is marked invalid."""

    format: ClassVar[str] = "packed_struct"

    def __init__(self, layout: StructLayout) -> None:
        self._layout = layout
        self._struct = struct.Struct(layout.struct_format)

    def encode(self, time_s: float, number: int, values: Mapping[str, RawValue]) -> list[bytes]:
        """Write one record.

        Raises:
            struct.error: A value does not fit its type.
        """
        layout = self._layout
        given = [values.get(entry.name) for entry in layout.fields if not entry.type.startswith("pad")]
        fields = [entry for entry in layout.fields if not entry.type.startswith("pad")]
        mask = sum(
            1 << entry.valid_bit
            for entry, value in zip(fields, given, strict=True)
            if entry.valid_bit >= 0 and value is not None
        )
        head: dict[str, RawValue | bytes] = {
            "magic": layout.magic, "version": layout.version or 0, "flags": 0, "length": layout.length_value,
            "sequence": number % 2**32, "time": time_s, "validity": mask,
        }  # fmt: skip
        heads = [_packed(entry, head[entry.name]) for entry in layout.header if entry.name != "pad"]
        body = [_packed(entry, value) for entry, value in zip(fields, given, strict=True)]
        record = self._struct.pack(*heads, *body)
        order = "<I" if layout.endian is Endian.LITTLE else ">I"
        return [record + struct.pack(order, zlib.crc32(record)) if layout.checksum else record]


def _packed(entry: StructField, value: RawValue | bytes) -> float | int | bytes:
    """Convert a value to the type that Python's `struct` packs."""
    kind = entry.type
    if kind.startswith("text"):
        return value.encode() if isinstance(value, str) else value if isinstance(value, bytes) else b""
    if kind.startswith("bits"):
        return int(value or 0).to_bytes(int(kind.partition(":")[2]), "little")
    if value is None:
        return math.nan if kind in ("f32", "f64") else 0
    if isinstance(value, str | bytes):
        raise struct.error(f"{entry.name} is text, its type is {kind}")
    return float(value) if kind in ("f32", "f64") else int(value)
