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

from rules.signals.model import Kind, Signal

CODES = {
    "u8": "B", "i8": "b", "u16": "H", "i16": "h", "u32": "I", "i32": "i",
    "u64": "Q", "i64": "q", "f32": "f", "f64": "d", "bool": "?",
}  # fmt: skip
_SIZED = re.compile(r"(text|pad|bits):([1-9]\d{0,3})")
ROLES = ("magic", "version", "flags", "length", "sequence", "time", "validity", "pad")
WHOLE = frozenset({"u8", "i8", "u16", "i16", "u32", "i32", "u64", "i64"})


class Endian(StrEnum):
    """Which byte comes first."""

    LITTLE = "little"
    BIG = "big"


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of header or fields; `valid_bit` is the bit of the validity mask that allows it, -1: none."""

    name: str
    type: str
    valid_bit: int = -1


@dataclass(frozen=True, slots=True)
class Table:
    """The whole record.  `counts_whole`: the length in the header counts every byte, otherwise the fields' only."""

    endian: Endian
    header: tuple[Entry, ...]
    fields: tuple[Entry, ...]
    magic: bytes = b""
    version: int | None = None
    checksum: bool = True
    counts_whole: bool = False

    @property
    def form(self) -> str:
        """The format for `struct`, without the checksum."""
        order = "<" if self.endian is Endian.LITTLE else ">"
        return order + "".join(code(entry.type) for entry in (*self.header, *self.fields))

    @property
    def size(self) -> int:
        """Bytes of a record with its checksum."""
        return struct.calcsize(self.form) + 4 * self.checksum

    @property
    def length(self) -> int:
        """What a length in the header has to say."""
        order = self.form[0]
        return (
            self.size
            if self.counts_whole
            else struct.calcsize(order + "".join(code(e.type) for e in self.fields))
        )


def code(kind: str) -> str:
    """The letter of `struct` for a type.

    Raises:
        ValueError: There is no such type.
    """
    if kind in CODES:
        return CODES[kind]
    sized = _SIZED.fullmatch(kind)
    if sized is None:
        raise ValueError(
            f"'{kind}' is not a type, expected one of {', '.join(CODES)}, text:N, pad:N or bits:N"
        )
    return sized[2] + ("x" if sized[1] == "pad" else "s")


def table_for(signals: Mapping[str, Signal], calls: Iterable[str] = ()) -> Table:
    """The table that sender and receiver agree on where neither says otherwise: every signal, by name.

    Args:
        signals: The signals of the book, in any order.
        calls: Names of calls; each becomes a time `call.NAME`, not valid until it was made.
    """
    names = [*sorted(signals), *(f"call.{call}" for call in sorted(calls))]
    fields = tuple(
        Entry(name, _type_of(signals[name]) if name in signals else "f64", bit)
        for bit, name in enumerate(names)
    )
    header = (
        Entry("magic", "text:4"), Entry("version", "u8"), Entry("length", "u16"), Entry("sequence", "u32"),
        Entry("time", "f64"), Entry("validity", f"bits:{max(1, (len(names) + 7) // 8)}"),
    )  # fmt: skip
    return Table(Endian.LITTLE, header, fields, magic=b"HSRT", version=1)


def _type_of(signal: Signal) -> str:
    """The type that carries any value of a signal."""
    if signal.kind is Kind.TEXT:
        return f"text:{max(1, 4 * signal.longest)}"
    if signal.kind is Kind.COUNT:
        return "i32"
    return f"text:{max(len(word.encode()) for word in signal.words)}" if signal.words else "f64"
