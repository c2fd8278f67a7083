"""Base class of every decoder: reads the bytes of one record and never raises.

    DecodedRecord    the fields of one record: names, and a raw value for each
    ColumnHeading    the names of the sender's columns, without values
    Reject           unreadable bytes: the reason, an excerpt, a hint

Takes: the bytes of one record.  Gives: one of the three.
"""

from __future__ import annotations

import math
import struct
from abc import ABC, abstractmethod
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import compress
from operator import is_not, ne
from typing import ClassVar, Literal, TypeAlias, get_args

from adapters.links.framing import Framing

FormatName: TypeAlias = Literal["labelled_csv", "key_value", "json", "msgpack", "packed_struct"]
"""Name of a wire format, as in map files and in the option `--format`."""

FORMATS: tuple[str, ...] = get_args(FormatName)

RawValue: TypeAlias = float | int | str | bool | None
"""Value of a field as sent; None where the sender sent no value, or NaN or infinity."""

MAX_RECORD_BYTES = 1 << 16
"""Bytes of the largest record that a decoder reads; UDP itself carries at most 65 507."""

MAX_FIELDS = 4096
"""Fields of one record at most; more is a mistake or an attack."""

MAX_NAME_LENGTH = 200
"""Characters of the name of a field at most, with the names of the objects around it."""

MAX_NAMES_LENGTH = 1 << 17
"""Characters of all names of one record at most: joined names may be longer than the record itself."""

MAX_RECORDS = 256
"""Records of one datagram at most: four seconds of a sender at 60 Hz that collects them."""

DECODE_ERRORS = (
    ValueError, TypeError, LookupError, ArithmeticError, RecursionError, MemoryError, struct.error,
)  # fmt: skip
"""Exceptions that a parser may raise on bytes from outside."""


@dataclass(frozen=True, slots=True)
class DecodedRecord:
    """Fields of one record, in the sender's order.

    Attributes:
        names: The columns' names; the same tuple object while the sender's layout stays the same. '' is a column
            without an unambiguous name, which can still be bound by its position.
        values: The values; never changed afterwards.
        base: The `values` list of an earlier record, where the decoder knows which columns differ from it.
        changed: The columns that differ from `base`.
    """

    names: tuple[str, ...]
    values: list[RawValue]
    base: list[RawValue] | None = None
    changed: Sequence[int] = ()


@dataclass(frozen=True, slots=True)
class ColumnHeading:
    """Names of the sender's columns; `ambiguous` lists the labels that several columns have."""

    names: tuple[str, ...]
    ambiguous: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Reject:
    """Refusal of unreadable bytes.

    Attributes:
        reason: One of a few phrases, so that rejects can be counted by it.
        detail: The particulars.
        excerpt: A printable piece of the bytes.
        hint: A likely cause.
    """

    reason: str
    detail: str = ""
    excerpt: str = ""
    hint: str = ""

    def __str__(self) -> str:
        """Write one line: reason, detail, excerpt, hint."""
        head = f"{self.reason}: {self.detail}" if self.detail else self.reason
        excerpt = f", in {self.excerpt}" if self.excerpt else ""
        return f"{head}{excerpt}" + (f" ({self.hint})" if self.hint else "")


class UnreadableError(ValueError):
    """Raised inside a decoder to refuse a record; arguments as the attributes of `Reject`."""

    def __init__(self, reason: str, detail: str = "", hint: str = "") -> None:
        super().__init__(reason)
        self.reason, self.detail, self.hint = reason, detail, hint


class Decoder(ABC):
    """Base class of wire formats; a subclass implements `parse`, and its exceptions become a Reject here.

    Attributes:
        format: The name of the format in map files.
        framing: The separation of its records in a stream.
        record_example: How a record looks, as Markdown; for the documents.
        no_value_forms: How a field without a value is sent, as Markdown; for the documents.
    """

    format: ClassVar[str]
    framing: ClassVar[Framing] = Framing.LENGTHS
    record_example: ClassVar[str] = ""
    no_value_forms: ClassVar[str] = ""
    _checked_names: tuple[str, ...] = ()

    def decode(self, data: bytes) -> DecodedRecord | ColumnHeading | Reject:
        """Read one record; never raises.

        Args:
            data: Any bytes.

        Returns:
            The fields, the names of the columns, or the reason for refusal.
        """
        if not data or data.isspace():
            return Reject("empty datagram")
        if len(data) > MAX_RECORD_BYTES:
            return Reject("too large", f"{len(data)} bytes, at most {MAX_RECORD_BYTES}", printable(data))
        try:
            decoded = self.parse(data)
            if decoded.names is not self._checked_names:
                check_names(decoded.names)
                self._checked_names = decoded.names
        except UnreadableError as error:
            return Reject(error.reason, error.detail, printable(data), self.hint(data) or error.hint)
        except DECODE_ERRORS as error:
            return Reject(f"not {self.format}", one_line(error), printable(data), self.hint(data))
        return decoded

    @abstractmethod
    def parse(self, data: bytes) -> DecodedRecord | ColumnHeading:
        """Read one record, or raise `UnreadableError` or one of `DECODE_ERRORS`."""

    def split(self, data: bytes) -> Sequence[bytes]:
        """Split a datagram into its records; one, unless the format allows several."""
        return (data,)

    def is_essential(self, data: bytes) -> bool:  # noqa: ARG002 - formats that have headings override it
        """Tell whether a link must not drop these bytes after a stall, because they are sent only once."""
        return False

    def hint(self, data: bytes) -> str:
        """Name the other format that refused bytes look like; '' where there is none."""
        seen = guess_format(data)
        return f"looks like {seen}" if seen not in ("", self.format) else ""


def check_names(names: Sequence[str]) -> None:
    """Refuse names that take too much memory, since a layout keeps them.

    Raises:
        UnreadableError: There are too many, or one of them, or all together, are too long.
    """
    if len(names) > MAX_FIELDS:
        raise UnreadableError("too many fields", f"{len(names)}, at most {MAX_FIELDS}")
    lengths = [len(name) for name in names]
    longest = max(lengths, default=0)
    if longest > MAX_NAME_LENGTH:
        name = names[lengths.index(longest)]
        raise UnreadableError("name too long", f"{name[:40]!r}..., at most {MAX_NAME_LENGTH} characters")
    if sum(lengths) > MAX_NAMES_LENGTH:
        raise UnreadableError("names too long", f"{sum(lengths)} characters, at most {MAX_NAMES_LENGTH}")


def differing_columns(values: list[RawValue], earlier: list[RawValue]) -> list[int]:
    """List the columns whose value or type differs between two lists of equal length.

    Python holds `False == 0` and `True == 1`, but a numeric signal accepts 0 and refuses false.
    """
    columns = range(len(values))
    if any(map(is_not, map(type, values), map(type, earlier))):
        return [c for c in columns if values[c] != earlier[c] or type(values[c]) is not type(earlier[c])]
    return list(compress(columns, map(ne, values, earlier)))


class RecordComparer:
    """Finds the columns that differ from the record before, and replaces NaN and infinity in them by None."""

    def __init__(self) -> None:
        self._last: list[RawValue] = []
        self._last_type: object = None

    def compare(self, names: tuple[str, ...], values: list[RawValue], record_type: object) -> DecodedRecord:
        """Make a record with None for each value that is not finite; changes `values` in place.

        Args:
            names: The names of the columns.
            values: The values.
            record_type: The same object for records in which each column holds booleans in all of them or in none, so
                that 0 cannot stand for false and comparing values is enough; None for a record of no type.
        """
        last = self._last
        comparable = len(last) == len(values)
        changed: Sequence[int] = range(len(values))
        if comparable and record_type is not None and record_type is self._last_type:
            changed = list(compress(changed, map(ne, values, last)))
        elif comparable:
            changed = differing_columns(values, last)
        for index in changed:
            value = values[index]
            if type(value) is float and not math.isfinite(value):
                values[index] = None
        self._last, self._last_type = values, record_type
        return DecodedRecord(names, values, last if comparable else None, changed)


def printable(data: bytes, max_bytes: int = 60) -> str:
    """Write the first bytes as text where they are text, otherwise in hexadecimal."""
    piece = data[:max_bytes]
    more = "..." if len(data) > max_bytes else ""
    if all(32 <= byte < 127 or byte in (9, 10, 13) for byte in piece):
        return repr(piece.decode("ascii"))[:-1] + f"{more}'"
    return piece[: max_bytes // 2].hex(" ", 4) + ("..." if len(data) > max_bytes // 2 else "")


def one_line(error: BaseException) -> str:
    """Write a parser's exception in one line of at most 120 characters."""
    text = str(error) or type(error).__name__
    return " ".join(text.split())[:120]


def guess_format(data: bytes) -> str:
    """Guess the format of some bytes from how they begin; '' where no format fits."""
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
