"""What every encoder is: the inverse of one decoder.

Takes: a time, a number and values by name.  Gives: the datagrams that say so.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from typing import ClassVar

from adapters.decoders.base import RawValue

TIME_FIELD, NUMBER_FIELD = "time", "sequence"
"""The names of clock and count; a map that says nothing else finds them."""


class Encoder(ABC):
    """One wire format, as a sender writes it."""

    format: ClassVar[str]

    @abstractmethod
    def encode(self, time_s: float, number: int, values: Mapping[str, RawValue]) -> list[bytes]:
        """Write one record.

        Args:
            time_s: The simulator's clock.
            number: The sequence number, 32 bits.
            values: The fields by name, in an order that stays; None for no value.

        Returns:
            The datagrams, in the order in which they are to be sent.
        """


def record_with_header(time_s: float, number: int, values: Mapping[str, RawValue]) -> dict[str, RawValue]:
    """All fields with clock and count in front."""
    return {TIME_FIELD: time_s, NUMBER_FIELD: number, **values}
