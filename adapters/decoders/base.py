"""What every decoder is: bytes in, one of three values out, and never an exception.

    Decoded     the fields of one record: names, and a raw value for each
    Heading     the sender said what its columns are called; no values in it
    Reject      the bytes could not be read: why, a piece of them, a hint

Takes: one record's bytes.  Gives: one of the three.
"""

from __future__ import annotations

import math
import struct
from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import compress
from operator import ne
from typing import ClassVar, TypeAlias

from adapters.links.framing import Framing

RawValue: TypeAlias = float | int | str | bool | None
"""A field as the sender said it; None where it said that there is no value, or one that cannot be (NaN)."""

MAX_RECORD_BYTES = 1 << 16
"""Bytes of the largest record that is looked into; UDP ends at 65 507."""

MAX_FIELDS = 4096
"""Fields of one record; more is a mistake or an attack."""

DECODE_ERRORS = (
    ValueError, TypeError, LookupError, ArithmeticError, RecursionError, MemoryError, struct.error,
)  # fmt: skip
"""What a parser may raise on bytes from outside."""


@dataclass(frozen=True, slots=True)
class DecodedRecord:
    """The fields of one record, in the sender's order.

    `names` is the same object from record to record while the sender's layout stays the same. A name is
    '' where the column has none that is unambiguous: it can still be bound by its position.  `values` is not
    written to afterwards.  A decoder that knows which columns differ from an earlier record's `values` may say
    so: `changed` are those columns, `base` is that earlier list itself.
    """

    names: tuple[str, ...]
    values: list[RawValue]
    base: list[RawValue] | None = None
    changed: Sequence[int] = ()


@dataclass(frozen=True, slots=True)
class ColumnHeading:
    """The sender named its columns. `ambiguous` are labels that more than one column bears."""

    names: tuple[str, ...]
    ambiguous: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reject:
    """Bytes that could not be read.

    `why` is one of few phrases, fit for counting; `detail` has the particulars; `shown` is a piece of the
    bytes made printable.
    """

    reason: str
    detail: str = ""
    excerpt: str = ""
    hint: str = ""

    def __str__(self) -> str:
        """One line: what, particulars, the bytes, the hint."""
        head = f"{self.reason}: {self.detail}" if self.detail else self.reason
        shown = f", in {self.excerpt}" if self.excerpt else ""
        return f"{head}{shown}" + (f" ({self.hint})" if self.hint else "")


class UnreadableError(ValueError):
    """Raised inside a decoder where a record has to be refused."""

    def __init__(self, reason: str, detail: str = "", hint: str = "") -> None:
        """Keep what the Reject will say."""
        super().__init__(reason)
        self.reason, self.detail, self.hint = reason, detail, hint


class Decoder(ABC):
    """One wire format. A subclass gives `read`; what it raises becomes a Reject here.

    Attributes:
        format: The name by which a map file asks for it.
        framing: How its records are told apart on a stream.
    """

    format: ClassVar[str]
    framing: ClassVar[Framing] = Framing.LENGTHS

    def decode(self, data: bytes) -> DecodedRecord | ColumnHeading | Reject:
        """Read one record.

        Args:
            data: Its bytes, any bytes.

        Returns:
            The fields, or the names of the columns, or why it cannot be read. Never raises.
        """
        if not data or data.isspace():
            return Reject("empty datagram")
        if len(data) > MAX_RECORD_BYTES:
            return Reject("too large", f"{len(data)} bytes, at most {MAX_RECORD_BYTES}", printable(data))
        try:
            return self.parse(data)
        except UnreadableError as error:
            return Reject(error.reason, error.detail, printable(data), self.hint(data) or error.hint)
        except DECODE_ERRORS as error:
            return Reject(f"not {self.format}", one_line(error), printable(data), self.hint(data))

    @abstractmethod
    def parse(self, data: bytes) -> DecodedRecord | ColumnHeading:
        """Read one record; raise `Unreadable`, or anything of `UNREADABLE`, where that cannot be done."""

    def split(self, data: bytes) -> Sequence[bytes]:
        """The records in one datagram; one, unless the format says otherwise."""
        return (data,)

    def is_essential(self, data: bytes) -> bool:  # noqa: ARG002 - formats that have headings override it
        """Whether these bytes may not be thrown away when a link catches up, because they come once only."""
        return False

    def hint(self, data: bytes) -> str:
        """What refused bytes look like instead; '' where they look like this format, or like none."""
        seen = guess_format(data)
        return f"looks like {seen}" if seen not in ("", self.format) else ""


class NonFiniteFilter:
    """Turns NaN and infinity into None, looking only at values that differ from the record before."""

    def __init__(self) -> None:
        """Begin with no record before."""
        self._last: list[RawValue] = []

    def clean(self, names: tuple[str, ...], values: list[RawValue]) -> DecodedRecord:
        """The record with None for each value that is not finite; the list that came is changed and kept."""
        last = self._last
        every = range(len(values))
        same = len(last) == len(values)
        changed = list(compress(every, map(ne, values, last))) if same else every
        for index in changed:
            value = values[index]
            if type(value) is float and not math.isfinite(value):
                values[index] = None
        self._last = values
        return DecodedRecord(names, values, last if same else None, changed)


def printable(data: bytes, max_bytes: int = 60) -> str:
    """A piece of the bytes that can be printed: as text where it is text, otherwise in hexadecimal."""
    piece = data[:max_bytes]
    more = "..." if len(data) > max_bytes else ""
    if all(32 <= byte < 127 or byte in (9, 10, 13) for byte in piece):
        return repr(piece.decode("ascii"))[:-1] + f"{more}'"
    return piece[: max_bytes // 2].hex(" ", 4) + ("..." if len(data) > max_bytes // 2 else "")


def one_line(error: BaseException) -> str:
    """What a parser raised, in one line that is not too long."""
    text = str(error) or type(error).__name__
    return " ".join(text.split())[:120]


def guess_format(data: bytes) -> str:
    """Which format the bytes seem to be in; '' where none is like them."""
    start = data.lstrip()[:16]
    if start.startswith(b"<LABELS>"):
        return "labelled_csv"
    if start.startswith((b"{", b"[")):
        return "json"
    if 0x80 <= data[0] <= 0x8F or data[0] in (0xDE, 0xDF):
        return "msgpack"
    first = data[:200].split(b"\n")[0]
    if all(32 <= byte < 127 or byte in (9, 13) for byte in first):
        return "key_value" if b"=" in first else "labelled_csv" if b"," in first else ""
    return ""
