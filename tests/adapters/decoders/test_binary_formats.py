"""MessagePack maps and packed records."""

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


def test_nan_and_infinity_cost_one_field_each_in_every_record() -> None:
    """A value that is not finite is no value, the first time and each time after."""
    decoder = MsgpackDecoder()
    for count in range(8):
        said = decoder.decode(
            msgpack.packb({"a": math.nan, "b": float(count), "c": math.inf, "d": -math.inf})
        )
        assert isinstance(said, DecodedRecord)
        assert said.values == [None, float(count), None, None]


def test_a_learnt_layout_still_refuses_a_key_twice() -> None:
    """A map that announces more members than it has names is refused, steady sender or not."""
    decoder = MsgpackDecoder()
    for _ in range(8):
        assert isinstance(decoder.decode(b"\x82\xa1a\x01\xa1b\x02"), DecodedRecord)
    said = decoder.decode(b"\x83\xa1a\x01\xa1b\x02\xa1a\x03")
    assert isinstance(said, Reject)
    assert said.reason == "duplicate key"


def test_nested_maps_are_dotted() -> None:
    """Maps inside maps become dotted names, lists numbered ones."""
    said = MsgpackDecoder().decode(msgpack.packb({"engine": {"1": {"n2": 25.5}}, "wow": [True, None]}))
    assert isinstance(said, DecodedRecord)
    assert dict(zip(said.names, said.values, strict=True)) == {
        "engine.1.n2": 25.5,
        "wow[0]": True,
        "wow[1]": None,
    }


def test_names_that_no_type_can_bear_are_read_every_time() -> None:
    """A key with a quote in it is as good as any other, also once the sender is steady."""
    decoder = MsgpackDecoder()
    for count in range(8):
        said = decoder.decode(msgpack.packb({'a"b\\': count}))
        assert isinstance(said, DecodedRecord)
        assert said.values == [count]


@pytest.mark.parametrize("endian", list(Endian))
def test_both_byte_orders_are_read(endian: Endian) -> None:
    """A table's byte order holds for fields, length and checksum alike."""
    entries = (StructField("length", "u16"), StructField("time", "f64"))
    table = StructLayout(
        endian,
        entries,
        (
            StructField("a", "i32"),
            StructField("b", "f32"),
            StructField("c", "text:5"),
            StructField("d", "bool"),
        ),
    )
    (data,) = PackedStructEncoder(table).encode(2.5, 1, {"a": -3, "b": 0.5, "c": "hëy", "d": True})
    said = PackedStructDecoder(table).decode(data)
    assert isinstance(said, DecodedRecord)
    assert dict(zip(said.names, said.values, strict=True)) == {
        "time": 2.5,
        "a": -3,
        "b": 0.5,
        "c": "hëy",
        "d": True,
    }
    other = StructLayout(Endian.BIG if endian is Endian.LITTLE else Endian.LITTLE, entries, table.fields)
    assert isinstance(PackedStructDecoder(other).decode(data), Reject)


def test_checks_run_from_the_outside_in() -> None:
    """Of several things wrong the outermost is named: size, magic, version, length, checksum."""
    head = (StructField("magic", "text:2"), StructField("version", "u8"), StructField("length", "u8"))
    decoder = PackedStructDecoder(
        StructLayout(Endian.LITTLE, head, (StructField("a", "f32"),), magic=b"AB", version=1)
    )

    def why(magic: bytes, version: int, length: int, *, good_sum: bool) -> str:
        body = struct.pack("<2sBBf", magic, version, length, 1.0)
        said = decoder.decode(body + struct.pack("<I", zlib.crc32(body) ^ (not good_sum)))
        return said.reason if isinstance(said, Reject) else "read"

    assert why(b"XX", 9, 9, good_sum=False) == "wrong magic"
    assert why(b"AB", 9, 9, good_sum=False) == "wrong version"
    assert why(b"AB", 1, 9, good_sum=False) == "wrong length"
    assert why(b"AB", 1, 4, good_sum=False) == "wrong checksum"
    assert why(b"AB", 1, 4, good_sum=True) == "read"


def test_every_flipped_bit_of_a_summed_record_is_noticed() -> None:
    """A record with one bit turned over is never taken for a good one."""
    signals = dict(list(load_book("common").signals.items())[:4])
    table = default_layout(signals)
    (data,) = PackedStructEncoder(table).encode(1.0, 1, {})
    decoder = PackedStructDecoder(table)
    for bit in range(8 * len(data)):
        damaged = bytearray(data)
        damaged[bit // 8] ^= 1 << bit % 8
        assert isinstance(decoder.decode(bytes(damaged)), Reject)


def test_text_that_is_not_utf8_costs_its_field_only() -> None:
    """A damaged text of a record without checksum is no value; the rest stands."""
    table = StructLayout(
        Endian.LITTLE, (), (StructField("a", "text:2"), StructField("b", "u8")), checksum=False
    )
    said = PackedStructDecoder(table).decode(b"\xff\xfe\x07")
    assert isinstance(said, DecodedRecord)
    assert said.values == [None, 7]
