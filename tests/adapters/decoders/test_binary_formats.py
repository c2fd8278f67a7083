"""Tests of the binary formats: MessagePack maps and packed records."""

from __future__ import annotations

import math
import struct
import zlib

import msgpack
import pytest

from adapters.decoders.base import DecodedRecord, Reject
from adapters.decoders.msgpack_map import MsgpackDecoder
from adapters.decoders.packed_struct import PackedStructDecoder
from adapters.decoders.struct_layout import Endian, StructField, StructLayout, default_layout
from adapters.encode.packed_struct import PackedStructEncoder
from rules.signals.book import load_book


def test_nan_and_infinity_affect_their_fields_only() -> None:
    """A value that is not finite is None in each record, and the other fields keep their values."""
    decoder = MsgpackDecoder()
    for count in range(8):
        decoded = decoder.decode(
            msgpack.packb({"a": math.nan, "b": float(count), "c": math.inf, "d": -math.inf})
        )
        assert isinstance(decoded, DecodedRecord)
        assert decoded.values == [None, float(count), None, None]


def test_a_change_from_false_to_0_is_a_changed_column() -> None:
    """The decoder lists a column that changes from false to 0, although Python compares them as equal."""
    decoder = MsgpackDecoder()
    decoder.decode(msgpack.packb({"a": False, "b": 1}))
    decoded = decoder.decode(msgpack.packb({"a": 0, "b": 1}))
    assert isinstance(decoded, DecodedRecord)
    assert list(decoded.changed) == [0]


def test_a_known_layout_still_refuses_duplicate_keys() -> None:
    """A map that announces more members than it has names is refused, also from a steady sender."""
    decoder = MsgpackDecoder()
    for _ in range(8):
        assert isinstance(decoder.decode(b"\x82\xa1a\x01\xa1b\x02"), DecodedRecord)
    decoded = decoder.decode(b"\x83\xa1a\x01\xa1b\x02\xa1a\x03")
    assert isinstance(decoded, Reject)
    assert decoded.reason == "duplicate key"


def test_nested_maps_are_dotted() -> None:
    """Nested maps become dotted names, list elements numbered ones."""
    decoded = MsgpackDecoder().decode(msgpack.packb({"engine": {"1": {"n2": 25.5}}, "wow": [True, None]}))
    assert isinstance(decoded, DecodedRecord)
    assert dict(zip(decoded.names, decoded.values, strict=True)) == {
        "engine.1.n2": 25.5,
        "wow[0]": True,
        "wow[1]": None,
    }


def test_names_with_quotes_are_read() -> None:
    """A key with a quote, which no struct type can have, is read in each record."""
    decoder = MsgpackDecoder()
    for count in range(8):
        decoded = decoder.decode(msgpack.packb({'a"b\\': count}))
        assert isinstance(decoded, DecodedRecord)
        assert decoded.values == [count]


@pytest.mark.parametrize("endian", list(Endian))
def test_both_byte_orders_are_read(endian: Endian) -> None:
    """The byte order of a layout applies to fields, length and checksum."""
    entries = (StructField("length", "u16"), StructField("time", "f64"))
    layout = StructLayout(
        endian,
        entries,
        (
            StructField("a", "i32"),
            StructField("b", "f32"),
            StructField("c", "text:5"),
            StructField("d", "bool"),
        ),
    )
    (data,) = PackedStructEncoder(layout).encode(2.5, 1, {"a": -3, "b": 0.5, "c": "hëy", "d": True})
    decoded = PackedStructDecoder(layout).decode(data)
    assert isinstance(decoded, DecodedRecord)
    assert dict(zip(decoded.names, decoded.values, strict=True)) == {
        "time": 2.5,
        "a": -3,
        "b": 0.5,
        "c": "hëy",
        "d": True,
    }
    other = StructLayout(Endian.BIG if endian is Endian.LITTLE else Endian.LITTLE, entries, layout.fields)
    assert isinstance(PackedStructDecoder(other).decode(data), Reject)


def test_checks_run_in_the_documented_order() -> None:
    """Of several faults the first in the order size, magic, version, length, checksum is reported."""
    head = (StructField("magic", "text:2"), StructField("version", "u8"), StructField("length", "u8"))
    decoder = PackedStructDecoder(
        StructLayout(Endian.LITTLE, head, (StructField("a", "f32"),), magic=b"AB", version=1)
    )

    def reason(magic: bytes, version: int, length: int, *, good_sum: bool) -> str:
        body = struct.pack("<2sBBf", magic, version, length, 1.0)
        decoded = decoder.decode(body + struct.pack("<I", zlib.crc32(body) ^ (not good_sum)))
        return decoded.reason if isinstance(decoded, Reject) else "read"

    assert reason(b"XX", 9, 9, good_sum=False) == "wrong magic"
    assert reason(b"AB", 9, 9, good_sum=False) == "wrong version"
    assert reason(b"AB", 1, 9, good_sum=False) == "wrong length"
    assert reason(b"AB", 1, 4, good_sum=False) == "wrong checksum"
    assert reason(b"AB", 1, 4, good_sum=True) == "read"


def test_every_flipped_bit_of_a_record_with_checksum_is_detected() -> None:
    """A record with one flipped bit is refused."""
    signals = dict(list(load_book("common").signals.items())[:4])
    layout = default_layout(signals)
    (data,) = PackedStructEncoder(layout).encode(1.0, 1, {})
    decoder = PackedStructDecoder(layout)
    for bit in range(8 * len(data)):
        damaged = bytearray(data)
        damaged[bit // 8] ^= 1 << bit % 8
        assert isinstance(decoder.decode(bytes(damaged)), Reject)


def test_text_that_is_not_utf8_affects_its_field_only() -> None:
    """A damaged text in a record without checksum is None; the other fields keep their values."""
    layout = StructLayout(
        Endian.LITTLE, (), (StructField("a", "text:2"), StructField("b", "u8")), checksum=False
    )
    decoded = PackedStructDecoder(layout).decode(b"\xff\xfe\x07")
    assert isinstance(decoded, DecodedRecord)
    assert decoded.values == [None, 7]
