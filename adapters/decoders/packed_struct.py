"""Decodes packed binary records by a layout.

Checks run in this order: size, magic, version, length, checksum.  Then each field is read: a cleared validity bit, NaN,
infinity and an empty text mean no value for that field only.

Takes: one record.  Gives: fields (with `sequence`, `time` and `flags` of the header), or a refusal.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable
from operator import itemgetter
from typing import Any, ClassVar

from adapters.decoders.base import DecodedRecord, Decoder, RecordComparer, UnreadableError
from adapters.decoders.struct_layout import Endian, StructLayout

_HEADER_FIELDS = ("sequence", "time", "flags")
_MAX_CACHED_TEXTS = 4096


class PackedStructDecoder(Decoder):
    """Packed record decoder for one layout."""

    format: ClassVar[str] = "packed_struct"
    record_example: ClassVar[str] = "bytes by a layout, with magic, version, length, CRC-32"
    no_value_forms: ClassVar[str] = "validity bit, NaN, empty text"

    def __init__(self, layout: StructLayout) -> None:
        self._layout = layout
        self._struct = struct.Struct(layout.struct_format)
        self._size = layout.size
        self._expected_header = {
            "magic": layout.magic or None,
            "version": layout.version,
            "length": layout.length_value,
        }
        slots = [entry for entry in (*layout.header, *layout.fields) if not entry.type.startswith("pad")]
        heads = sum(not entry.type.startswith("pad") for entry in layout.header)
        self._header_slots = {entry.name: slot for slot, entry in enumerate(slots[:heads])}
        wanted = [slot for slot, entry in enumerate(slots) if slot >= heads or entry.name in _HEADER_FIELDS]
        entries = [slots[slot] for slot in wanted]
        self._pick = _picker(wanted)
        self._names = tuple(entry.name for entry in entries)
        self._text_columns = [column for column, entry in enumerate(entries) if entry.type.startswith("text")]
        self._text_cache: dict[bytes, str | None] = {}
        self._valid_bits = [
            (c, 1 << entry.valid_bit) for c, entry in enumerate(entries) if entry.valid_bit >= 0
        ]
        self._mask: int | None = None
        self._invalid_columns: list[int] = []
        self._comparer = RecordComparer()

    def parse(self, data: bytes) -> DecodedRecord:
        """Read one record."""
        if len(data) != self._size:
            why = "record too short" if len(data) < self._size else "record too long"
            raise UnreadableError(why, f"{len(data)} bytes, expected {self._size}")
        slots = self._struct.unpack_from(data)
        self._check_header(slots)
        if self._layout.checksum:
            self._check_crc(data)
        values = list(self._pick(slots))
        self._read_texts(values)
        mask = self._mask_of(slots)
        if mask != self._mask:
            self._mask = mask
            self._invalid_columns = (
                [] if mask is None else [c for c, bit in self._valid_bits if not mask & bit]
            )
        for column in self._invalid_columns:
            values[column] = None
        return self._comparer.compare(self._names, values, self._layout)

    def _read_texts(self, values: list[Any]) -> None:
        """Decode the text columns in place, with a cache, since senders repeat a few words."""
        known = self._text_cache
        for column in self._text_columns:
            raw = values[column]
            try:
                values[column] = known[raw]
            except KeyError:
                if len(known) >= _MAX_CACHED_TEXTS:
                    known.clear()
                values[column] = known[raw] = _text(raw)

    def _check_header(self, slots: tuple[object, ...]) -> None:
        """Check magic, version and length."""
        where = self._header_slots
        for name, expected in self._expected_header.items():
            if name in where and expected is not None and slots[where[name]] != expected:
                raise UnreadableError(f"wrong {name}", f"{slots[where[name]]!r}, expected {expected!r}")

    def _check_crc(self, data: bytes) -> None:
        """Check the CRC-32 of all bytes before it."""
        sent = struct.unpack("<I" if self._layout.endian is Endian.LITTLE else ">I", data[-4:])[0]
        if zlib.crc32(data[:-4]) != sent:
            raise UnreadableError("wrong checksum", hint="damaged on the way, or another byte order")

    def _mask_of(self, slots: tuple[object, ...]) -> int | None:
        """Read the validity bits; None where the record has none."""
        if "validity" not in self._header_slots:
            return None
        mask = slots[self._header_slots["validity"]]
        if isinstance(mask, bytes):
            return int.from_bytes(mask, "little")
        return mask if isinstance(mask, int) else None


def _picker(slots: list[int]) -> Callable[[tuple[object, ...]], tuple[Any, ...]]:
    """Make a function that picks these slots out of a record."""
    if len(slots) > 1:
        return itemgetter(*slots)
    return lambda record: tuple(record[slot] for slot in slots)


def _text(raw: bytes) -> str | None:
    """Decode a text without its padding; None where it is empty or not UTF-8."""
    try:
        return raw.rstrip(b"\0").decode("utf-8") or None
    except UnicodeDecodeError:
        return None
