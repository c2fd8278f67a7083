"""Layout of a packed binary record: header, fields and checksum with their types.

    header     in the sender's order, any of: magic, version, flags, length, sequence, time, validity, pad
    fields     in the sender's order, each with a type
    checksum   CRC-32 (ITU-T V.42, as in zlib) of all bytes before it, at the end

    types      u8 i8 u16 i16 u32 i32 u64 i64 f32 f64 bool, text:N (UTF-8, padded with zero bytes), pad:N,
               bits:N (N bytes of validity bits, bit 0 first)

Fields are not aligned; padding bytes are entries of the layout.  The byte order is always explicit.

Takes: the `struct` part of a map file, or signals.  Gives: `StructLayout`.
"""

from __future__ import annotations

import re
import struct
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from rules.signals.model import Signal, SignalKind

STRUCT_CODES = {
    "u8": "B", "i8": "b", "u16": "H", "i16": "h", "u32": "I", "i32": "i",
    "u64": "Q", "i64": "q", "f32": "f", "f64": "d", "bool": "?",
}  # fmt: skip
_SIZED = re.compile(r"(text|pad|bits):([1-9]\d{0,3})")
HEADER_PARTS = ("magic", "version", "flags", "length", "sequence", "time", "validity", "pad")
INTEGER_TYPES = frozenset({"u8", "i8", "u16", "i16", "u32", "i32", "u64", "i64"})


class Endian(StrEnum):
    """Byte order of numbers."""

    LITTLE = "little"
    BIG = "big"


@dataclass(frozen=True, slots=True)
class StructField:
    """Entry of header or fields; `valid_bit` is its bit in the validity mask, -1 for no bit."""

    name: str
    type: str
    valid_bit: int = -1


@dataclass(frozen=True, slots=True)
class StructLayout:
    """Layout of a whole record; the header's length counts all bytes, or without `length_includes_header` the fields' only."""

    endian: Endian
    header: tuple[StructField, ...]
    fields: tuple[StructField, ...]
    magic: bytes = b""
    version: int | None = None
    checksum: bool = True
    length_includes_header: bool = False

    @property
    def struct_format(self) -> str:
        """The format string for `struct`, without the checksum."""
        order = "<" if self.endian is Endian.LITTLE else ">"
        return order + "".join(struct_code(entry.type) for entry in (*self.header, *self.fields))

    @property
    def size(self) -> int:
        """Bytes of a record, with its checksum."""
        return struct.calcsize(self.struct_format) + 4 * self.checksum

    @property
    def length_value(self) -> int:
        """The value that the header's length must have."""
        order = self.struct_format[0]
        return (
            self.size
            if self.length_includes_header
            else struct.calcsize(order + "".join(struct_code(e.type) for e in self.fields))
        )


def struct_code(kind: str) -> str:
    """Give the code that Python's `struct` has for a type.

    Raises:
        ValueError: The type is unknown.
    """
    if kind in STRUCT_CODES:
        return STRUCT_CODES[kind]
    sized = _SIZED.fullmatch(kind)
    if sized is None:
        raise ValueError(
            f"'{kind}' is not a type, expected one of {', '.join(STRUCT_CODES)}, text:N, pad:N or bits:N"
        )
    return sized[2] + ("x" if sized[1] == "pad" else "s")


def default_layout(signals: Mapping[str, Signal], calls: Iterable[str] = ()) -> StructLayout:
    """Make the layout that sender and receiver use without a map file: every signal, by name.

    Args:
        signals: The signals of the book, in any order.
        calls: Names of calls; each becomes a time `call.NAME`, invalid until the call is made.
    """
    names = [*sorted(signals), *(f"call.{call}" for call in sorted(calls))]
    fields = tuple(
        StructField(name, _type_of(signals[name]) if name in signals else "f64", bit)
        for bit, name in enumerate(names)
    )
    header = (
        StructField("magic", "text:4"), StructField("version", "u8"), StructField("length", "u16"), StructField("sequence", "u32"),
        StructField("time", "f64"), StructField("validity", f"bits:{max(1, (len(names) + 7) // 8)}"),
    )  # fmt: skip
    return StructLayout(Endian.LITTLE, header, fields, magic=b"HSRT", version=1)


def _type_of(signal: Signal) -> str:
    """Choose the type that can hold every value of a signal."""
    if signal.kind is SignalKind.TEXT:
        return f"text:{max(1, 4 * signal.max_length)}"
    if signal.kind is SignalKind.COUNT:
        return "i32"
    return f"text:{max(len(word.encode()) for word in signal.words)}" if signal.words else "f64"
