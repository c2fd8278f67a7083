"""Base class of every encoder, the inverse of one decoder.

Takes: a time, a sequence number and values by name.  Gives: the datagrams of one record.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from typing import ClassVar

from adapters.decoders.base import RawValue

TIME_FIELD, NUMBER_FIELD = "time", "sequence"
"""Names of the time and the sequence number, which the decoders find without a map."""


class Encoder(ABC):
    """Base class of encoders; a subclass writes one wire format."""

    format: ClassVar[str]

    @abstractmethod
    def encode(self, time_s: float, number: int, values: Mapping[str, RawValue]) -> list[bytes]:
        """Write one record.

        Args:
            time_s: The simulator's clock in seconds.
            number: The sequence number, 32 bits.
            values: The fields by name, in the same order each time; None for no value.

        Returns:
            The datagrams in the order of sending.
        """


def record_with_header(time_s: float, number: int, values: Mapping[str, RawValue]) -> dict[str, RawValue]:
    """Put time and sequence number before the fields."""
    return {TIME_FIELD: time_s, NUMBER_FIELD: number, **values}
