"""The table of a packed binary record: which bytes are what.

    header     in the sender's order, any of: magic, version, flags, length, sequence, time, validity, pad
    fields     in the sender's order, each with a type
    checksum   CRC-32 (ITU-T V.42, as in zlib) of all bytes before it, at the end

    types      u8 i8 u16 i16 u32 i32 u64 i64 f32 f64 bool, text:N (UTF-8, filled up with zero bytes), pad:N,
               bits:N (N bytes of validity bits, bit 0 first)

Nothing is aligned: every byte is in the table.  The byte order is always said.

Takes: what a map file says, or signals.  Gives: `Table`.
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
    """Which byte comes first."""

    LITTLE = "little"
    BIG = "big"


@dataclass(frozen=True, slots=True)
class StructField:
    """One entry of header or fields; `valid_bit` is the bit of the validity mask that allows it, -1: none."""

    name: str
    type: str
    valid_bit: int = -1


@dataclass(frozen=True, slots=True)
class StructLayout:
    """The whole record.  `counts_whole`: the length in the header counts every byte, otherwise the fields' only."""

    endian: Endian
    header: tuple[StructField, ...]
    fields: tuple[StructField, ...]
    magic: bytes = b""
    version: int | None = None
    checksum: bool = True
    length_includes_header: bool = False

    @property
    def struct_format(self) -> str:
        """The format for `struct`, without the checksum."""
        order = "<" if self.endian is Endian.LITTLE else ">"
        return order + "".join(struct_code(entry.type) for entry in (*self.header, *self.fields))

    @property
    def size(self) -> int:
        """Bytes of a record with its checksum."""
        return struct.calcsize(self.struct_format) + 4 * self.checksum

    @property
    def length_value(self) -> int:
        """What a length in the header has to say."""
        order = self.struct_format[0]
        return (
            self.size
            if self.length_includes_header
            else struct.calcsize(order + "".join(struct_code(e.type) for e in self.fields))
        )


def struct_code(kind: str) -> str:
    """The letter of `struct` for a type.

    Raises:
        ValueError: There is no such type.
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
    """The table that sender and receiver agree on where neither says otherwise: every signal, by name.

    Args:
        signals: The signals of the book, in any order.
        calls: Names of calls; each becomes a time `call.NAME`, not valid until it was made.
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
    """The type that carries any value of a signal."""
    if signal.kind is SignalKind.TEXT:
        return f"text:{max(1, 4 * signal.max_length)}"
    if signal.kind is SignalKind.COUNT:
        return "i32"
    return f"text:{max(len(word.encode()) for word in signal.words)}" if signal.words else "f64"
