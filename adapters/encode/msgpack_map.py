"""Encodes records as MessagePack maps.

Takes: a time, a sequence number and values by name.  Gives: one datagram that the decoder reads back.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

import msgspec

from adapters.decoders.base import RawValue
from adapters.encode.base import Encoder, record_with_header


class MsgpackEncoder(Encoder):
    """MessagePack encoder: one map for each record, with 64-bit floats."""

    format: ClassVar[str] = "msgpack"

    def encode(self, time_s: float, number: int, values: Mapping[str, RawValue]) -> list[bytes]:
        """Write one map."""
        return [msgspec.msgpack.encode(record_with_header(time_s, number, values))]
