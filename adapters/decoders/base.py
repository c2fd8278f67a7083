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

from adapters.framing import Framing

Raw: TypeAlias = float | int | str | bool | None
"""A field as the sender said it; None where it said that there is no value, or one that cannot be (NaN)."""

LARGEST_DATAGRAM = 1 << 16
"""Bytes of the largest record that is looked into; UDP ends at 65 507."""

NAMES_AT_MOST = 4096
"""Fields of one record; more is a mistake or an attack."""

UNREADABLE = (
    ValueError, TypeError, LookupError, ArithmeticError, RecursionError, MemoryError, struct.error,
)  # fmt: skip
"""What a parser may raise on bytes from outside."""


@dataclass(frozen=True, slots=True)
class Decoded:
    """The fields of one record, in the sender's order.

    `names` is the same object from record to record while the sender's layout stays the same. A name is
    '' where the column has none that is unambiguous: it can still be bound by its position.  `values` is not
    written to afterwards.  A decoder that knows which columns differ from an earlier record's `values` may say
    so: `changed` are those columns, `base` is that earlier list itself.
    """

    names: tuple[str, ...]
    values: list[Raw]
    base: list[Raw] | None = None
    changed: Sequence[int] = ()


@dataclass(frozen=True, slots=True)
class Heading:
    """The sender named its columns. `ambiguous` are labels that more than one column bears."""

    names: tuple[str, ...]
    ambiguous: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reject:
    """Bytes that could not be read.

    `why` is one of few phrases, fit for counting; `detail` has the particulars; `shown` is a piece of the
    bytes made printable.
    """

    why: str
    detail: str = ""
    shown: str = ""
    hint: str = ""

    def __str__(self) -> str:
        """One line: what, particulars, the bytes, the hint."""
        head = f"{self.why}: {self.detail}" if self.detail else self.why
        shown = f", in {self.shown}" if self.shown else ""
        return f"{head}{shown}" + (f" ({self.hint})" if self.hint else "")


class Unreadable(ValueError):  # noqa: N818 - becomes a Reject, is never seen outside
    """Raised inside a decoder where a record has to be refused."""

    def __init__(self, why: str, detail: str = "", hint: str = "") -> None:
        """Keep what the Reject will say."""
        super().__init__(why)
        self.why, self.detail, self.hint = why, detail, hint


class Decoder(ABC):
    """One wire format. A subclass gives `read`; what it raises becomes a Reject here.

    Attributes:
        format: The name by which a map file asks for it.
        framing: How its records are told apart on a stream.
    """

    format: ClassVar[str]
    framing: ClassVar[Framing] = Framing.LENGTHS

    def decode(self, data: bytes) -> Decoded | Heading | Reject:
        """Read one record.

        Args:
            data: Its bytes, any bytes.

        Returns:
            The fields, or the names of the columns, or why it cannot be read. Never raises.
        """
        if not data or data.isspace():
            return Reject("empty datagram")
        if len(data) > LARGEST_DATAGRAM:
            return Reject("too large", f"{len(data)} bytes, at most {LARGEST_DATAGRAM}", shown(data))
        try:
            return self.read(data)
        except Unreadable as error:
            return Reject(error.why, error.detail, shown(data), self.hint(data) or error.hint)
        except UNREADABLE as error:
            return Reject(f"not {self.format}", plain(error), shown(data), self.hint(data))

    @abstractmethod
    def read(self, data: bytes) -> Decoded | Heading:
        """Read one record; raise `Unreadable`, or anything of `UNREADABLE`, where that cannot be done."""

    def split(self, data: bytes) -> Sequence[bytes]:
        """The records in one datagram; one, unless the format says otherwise."""
        return (data,)

    def precious(self, data: bytes) -> bool:  # noqa: ARG002 - formats that have headings override it
        """Whether these bytes may not be thrown away when a link catches up, because they come once only."""
        return False

    def hint(self, data: bytes) -> str:
        """What refused bytes look like instead; '' where they look like this format, or like none."""
        seen = looks_like(data)
        return f"looks like {seen}" if seen not in ("", self.format) else ""


class Sieve:
    """Turns NaN and infinity into None, looking only at values that differ from the record before."""

    def __init__(self) -> None:
        """Begin with no record before."""
        self._last: list[Raw] = []

    def clean(self, names: tuple[str, ...], values: list[Raw]) -> Decoded:
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
        return Decoded(names, values, last if same else None, changed)


def shown(data: bytes, most: int = 60) -> str:
    """A piece of the bytes that can be printed: as text where it is text, otherwise in hexadecimal."""
    piece = data[:most]
    more = "..." if len(data) > most else ""
    if all(32 <= byte < 127 or byte in (9, 10, 13) for byte in piece):
        return repr(piece.decode("ascii"))[:-1] + f"{more}'"
    return piece[: most // 2].hex(" ", 4) + ("..." if len(data) > most // 2 else "")


def plain(error: BaseException) -> str:
    """What a parser raised, in one line that is not too long."""
    text = str(error) or type(error).__name__
    return " ".join(text.split())[:120]


def looks_like(data: bytes) -> str:
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
