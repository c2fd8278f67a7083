"""Packed binary records, read by a table.

Checked in this order: size, magic, version, length, checksum; then each field on its own: what the validity mask
does not allow, NaN, infinity and empty text are "no value" for that field only.

Takes: one record.  Gives: fields (with `sequence`, `time` and `flags` of the header), or a refusal.
"""

from __future__ import annotations

import struct
import zlib
from typing import ClassVar

from adapters.decoders.base import Decoded, Decoder, Raw, Sieve, Unreadable
from adapters.decoders.table import Endian, Entry, Table

_TOLD = ("sequence", "time", "flags")


class PackedStruct(Decoder):
    """The decoder of one table."""

    format: ClassVar[str] = "packed_struct"

    def __init__(self, table: Table) -> None:
        """Prepare the table."""
        self._table = table
        self._struct = struct.Struct(table.form)
        slots = [entry for entry in (*table.header, *table.fields) if not entry.type.startswith("pad")]
        heads = sum(not entry.type.startswith("pad") for entry in table.header)
        self._where = {entry.name: slot for slot, entry in enumerate(slots[:heads])}
        told = [slot for slot, entry in enumerate(slots) if slot >= heads or entry.name in _TOLD]
        self._told: list[tuple[int, Entry]] = [(slot, slots[slot]) for slot in told]
        self._names = tuple(entry.name for _, entry in self._told)
        self._texts = [
            column for column, (_, entry) in enumerate(self._told) if entry.type.startswith("text")
        ]
        self._masked = [
            (column, 1 << entry.valid_bit)
            for column, (_, entry) in enumerate(self._told)
            if entry.valid_bit >= 0
        ]
        self._sieve = Sieve()

    def read(self, data: bytes) -> Decoded:
        """Read one record."""
        table = self._table
        if len(data) != table.size:
            why = "record too short" if len(data) < table.size else "record too long"
            raise Unreadable(why, f"{len(data)} bytes, expected {table.size}")
        slots = self._struct.unpack_from(data)
        self._check_head(slots)
        if table.checksum:
            self._check_sum(data)
        values: list[Raw] = [slots[slot] for slot, _ in self._told]
        for column in self._texts:
            values[column] = _text(slots[self._told[column][0]])
        mask = self._mask(slots)
        if mask is not None:
            for column, bit in self._masked:
                if not mask & bit:
                    values[column] = None
        return self._sieve.clean(self._names, values)

    def _check_head(self, slots: tuple[object, ...]) -> None:
        """Magic, version, length."""
        table, where = self._table, self._where
        wanted = {"magic": table.magic or None, "version": table.version, "length": table.length}
        for name, expected in wanted.items():
            if name in where and expected is not None and slots[where[name]] != expected:
                raise Unreadable(f"wrong {name}", f"{slots[where[name]]!r}, expected {expected!r}")

    def _check_sum(self, data: bytes) -> None:
        """The CRC over all before it."""
        said = struct.unpack("<I" if self._table.endian is Endian.LITTLE else ">I", data[-4:])[0]
        if zlib.crc32(data[:-4]) != said:
            raise Unreadable("wrong checksum", hint="damaged on the way, or another byte order")

    def _mask(self, slots: tuple[object, ...]) -> int | None:
        """The validity bits; None where the record has none."""
        if "validity" not in self._where:
            return None
        mask = slots[self._where["validity"]]
        if isinstance(mask, bytes):
            return int.from_bytes(mask, "little")
        return mask if isinstance(mask, int) else None


def _text(raw: bytes) -> str | None:
    """A text without its filling; None for an empty one or one that is not UTF-8."""
    try:
        return raw.rstrip(b"\0").decode("utf-8") or None
    except UnicodeDecodeError:
        return None
