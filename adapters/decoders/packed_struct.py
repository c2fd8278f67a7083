"""Packed binary records, read by a table.

Checked in this order: size, magic, version, length, checksum; then each field on its own: what the validity mask
does not allow, NaN, infinity and empty text are "no value" for that field only.

Takes: one record.  Gives: fields (with `sequence`, `time` and `flags` of the header), or a refusal.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable
from operator import itemgetter
from typing import Any, ClassVar

from adapters.decoders.base import Decoded, Decoder, Sieve, Unreadable
from adapters.decoders.table import Endian, Table

_TOLD = ("sequence", "time", "flags")
_TEXTS_AT_MOST = 4096


class PackedStruct(Decoder):
    """The decoder of one table."""

    format: ClassVar[str] = "packed_struct"

    def __init__(self, table: Table) -> None:
        """Prepare the table."""
        self._table = table
        self._struct = struct.Struct(table.form)
        self._size = table.size
        self._wanted = {"magic": table.magic or None, "version": table.version, "length": table.length}
        slots = [entry for entry in (*table.header, *table.fields) if not entry.type.startswith("pad")]
        heads = sum(not entry.type.startswith("pad") for entry in table.header)
        self._where = {entry.name: slot for slot, entry in enumerate(slots[:heads])}
        told = [slot for slot, entry in enumerate(slots) if slot >= heads or entry.name in _TOLD]
        entries = [slots[slot] for slot in told]
        self._pick = _picker(told)
        self._names = tuple(entry.name for entry in entries)
        self._texts = [column for column, entry in enumerate(entries) if entry.type.startswith("text")]
        self._known: dict[bytes, str | None] = {}
        self._masked = [(c, 1 << entry.valid_bit) for c, entry in enumerate(entries) if entry.valid_bit >= 0]
        self._mask: int | None = None
        self._missing: list[int] = []
        self._sieve = Sieve()

    def read(self, data: bytes) -> Decoded:
        """Read one record."""
        if len(data) != self._size:
            why = "record too short" if len(data) < self._size else "record too long"
            raise Unreadable(why, f"{len(data)} bytes, expected {self._size}")
        slots = self._struct.unpack_from(data)
        self._check_head(slots)
        if self._table.checksum:
            self._check_sum(data)
        values = list(self._pick(slots))
        self._read_texts(values)
        mask = self._mask_of(slots)
        if mask != self._mask:
            self._mask = mask
            self._missing = [] if mask is None else [c for c, bit in self._masked if not mask & bit]
        for column in self._missing:
            values[column] = None
        return self._sieve.clean(self._names, values)

    def _read_texts(self, values: list[Any]) -> None:
        """Turn bytes to text where they stand; the same few words come again and again."""
        known = self._known
        for column in self._texts:
            raw = values[column]
            try:
                values[column] = known[raw]
            except KeyError:
                if len(known) >= _TEXTS_AT_MOST:
                    known.clear()
                values[column] = known[raw] = _text(raw)

    def _check_head(self, slots: tuple[object, ...]) -> None:
        """Magic, version, length."""
        where = self._where
        for name, expected in self._wanted.items():
            if name in where and expected is not None and slots[where[name]] != expected:
                raise Unreadable(f"wrong {name}", f"{slots[where[name]]!r}, expected {expected!r}")

    def _check_sum(self, data: bytes) -> None:
        """The CRC over all before it."""
        said = struct.unpack("<I" if self._table.endian is Endian.LITTLE else ">I", data[-4:])[0]
        if zlib.crc32(data[:-4]) != said:
            raise Unreadable("wrong checksum", hint="damaged on the way, or another byte order")

    def _mask_of(self, slots: tuple[object, ...]) -> int | None:
        """The validity bits; None where the record has none."""
        if "validity" not in self._where:
            return None
        mask = slots[self._where["validity"]]
        if isinstance(mask, bytes):
            return int.from_bytes(mask, "little")
        return mask if isinstance(mask, int) else None


def _picker(slots: list[int]) -> Callable[[tuple[object, ...]], tuple[Any, ...]]:
    """Takes these slots out of a record."""
    if len(slots) > 1:
        return itemgetter(*slots)
    return lambda record: tuple(record[slot] for slot in slots)


def _text(raw: bytes) -> str | None:
    """A text without its filling; None for an empty one or one that is not UTF-8."""
    try:
        return raw.rstrip(b"\0").decode("utf-8") or None
    except UnicodeDecodeError:
        return None
