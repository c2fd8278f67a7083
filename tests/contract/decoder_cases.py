"""Cases of the decoder suite: each decoder with its encoder.

A module of another package adds its own to `DECODERS` when it is imported; see `third_party`.

Takes: nothing.  Gives: `DECODERS`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from adapters.decoders.base import Decoder, RawValue
from adapters.decoders.json_text import JsonDecoder
from adapters.decoders.key_value import KeyValueDecoder
from adapters.decoders.labelled_csv import LabelledCsvDecoder
from adapters.decoders.msgpack_map import MsgpackDecoder
from adapters.decoders.packed_struct import PackedStructDecoder
from adapters.decoders.struct_layout import Endian, StructField, StructLayout
from adapters.encode.base import Encoder
from adapters.encode.msgpack_map import MsgpackEncoder
from adapters.encode.packed_struct import PackedStructEncoder
from adapters.encode.text import JsonEncoder, KeyValueEncoder, LabelledCsvEncoder
from tests.contract.third_party import import_third_party


@dataclass(frozen=True, slots=True)
class DecoderCase:
    """A decoder with its inverse.

    Attributes:
        decoder: Makes the decoder.
        encoder: Makes the encoder.
        fields: The fields of the round trips.
        rejects_cuts: True where every truncated record can be distinguished from a whole one.
    """

    decoder: Callable[[], Decoder]
    encoder: Callable[[], Encoder]
    fields: dict[str, RawValue]
    rejects_cuts: bool


LAYOUT = StructLayout(
    Endian.LITTLE,
    (StructField("magic", "text:4"), StructField("length", "u16"), StructField("sequence", "u32"), StructField("time", "f64"), StructField("validity", "u8")),
    (StructField("n2", "f64", 0), StructField("gear", "text:6", 1), StructField("count", "i32", 2), StructField("on", "bool", 3)),
    magic=b"LMRE",
)  # fmt: skip
_FIELDS: dict[str, RawValue] = {"n2": 61.25, "gear": "down", "count": 3, "on": True}

DECODERS: dict[str, DecoderCase] = {
    "labelled_csv": DecoderCase(LabelledCsvDecoder, LabelledCsvEncoder, _FIELDS, rejects_cuts=False),
    "key_value": DecoderCase(KeyValueDecoder, KeyValueEncoder, _FIELDS, rejects_cuts=False),
    "json": DecoderCase(JsonDecoder, JsonEncoder, _FIELDS, rejects_cuts=True),
    "msgpack": DecoderCase(MsgpackDecoder, MsgpackEncoder, _FIELDS, rejects_cuts=True),
    "packed_struct": DecoderCase(
        lambda: PackedStructDecoder(LAYOUT), lambda: PackedStructEncoder(LAYOUT), _FIELDS, rejects_cuts=True
    ),
}

import_third_party()
