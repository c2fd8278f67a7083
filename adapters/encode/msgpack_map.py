"""The encoder of MessagePack maps.

Takes: a time, a number and values by name.  Gives: one datagram that the decoder reads back.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

import msgspec

from adapters.decoders.base import RawValue
from adapters.encode.base import Encoder, record_with_header


class MsgpackEncoder(Encoder):
    """One map a record; floats have 64 bits."""

    format: ClassVar[str] = "msgpack"

    def encode(self, time_s: float, number: int, values: Mapping[str, RawValue]) -> list[bytes]:
        """One map."""
        return [msgspec.msgpack.encode(record_with_header(time_s, number, values))]
