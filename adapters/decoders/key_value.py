r"""Decodes pairs `key=value` separated by blanks, one record in each line.

    record   pair (blanks pair)*                           ASCII blanks; `\r\n` at the end is ignored
    pair     key "=" value                                 split at the first `=`; no blanks around it
    key      letter or _, then letters, digits, _ . [ ] / -
    value    number | true | false | word | "text" | empty           as in `cells`; empty: the field has no value
    number   [+-] digits [. digits] [e [+-] digits]        no unit after it, no decimal comma

`time` (or `t`) is the simulator's clock in seconds, `sequence` (or `seq`) the number of the record.  A word may contain
further `=`.  `on`, `off`, `yes` and `no` are words.  Duplicate keys are refused.

Takes: one record.  Gives: fields, or a refusal.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from itertools import compress
from operator import ne
from typing import ClassVar

from adapters.decoders.base import MAX_FIELDS, DecodedRecord, Decoder, RawValue, UnreadableError
from adapters.decoders.cells import parse_cell, parse_numbers
from adapters.links.framing import Framing

_KEY = re.compile(rb"[A-Za-z_][\w.\[\]/-]*")
_TOKEN = re.compile(rb'[^\s"]+(?:"(?:[^"]|"")*")?')


class KeyValueDecoder(Decoder):
    """Key=value decoder; compares the text with the last record's and parses only the pairs that differ."""

    format: ClassVar[str] = "key_value"
    framing: ClassVar[Framing] = Framing.LINES
    record_example: ClassVar[str] = '`t=0.5 a=12.3 b=off c="two words"`'
    no_value_forms: ClassVar[str] = "`a=`, `nan`, `inf`"

    def __init__(self) -> None:
        self._keys: list[bytes] = []
        self._names: tuple[str, ...] = ()
        self._tokens: list[bytes] = []
        self._values: list[RawValue] = []

    def split(self, data: bytes) -> Sequence[bytes]:
        """Split a datagram into lines; each is one record."""
        return [line for line in data.splitlines() if line.strip()] if b"\n" in data[:-1] else (data,)

    def parse(self, data: bytes) -> DecodedRecord:
        """Read one record."""
        tokens = _split_pairs(data)
        last = self._values
        if len(tokens) == len(self._tokens):
            changed = list(compress(range(len(tokens)), map(ne, tokens, self._tokens)))
            pairs = [tokens[column].partition(b"=") for column in changed]
            if all(pair[0] == self._keys[column] for pair, column in zip(pairs, changed, strict=True)):
                values = last.copy()
                for column, value in zip(changed, _parse_values(pairs), strict=True):
                    values[column] = value
                self._tokens, self._values = tokens, values
                return DecodedRecord(self._names, values, last, changed)
        return self._read_all_pairs(tokens)

    def _read_all_pairs(self, tokens: list[bytes]) -> DecodedRecord:
        """Read every pair of a record whose layout is new."""
        if len(tokens) > MAX_FIELDS:
            raise UnreadableError("too many fields", f"more than {MAX_FIELDS}")
        pairs = [token.partition(b"=") for token in tokens]
        keys = [key for key, _, _ in pairs]
        for key, equals, _ in pairs:
            if not equals or not _KEY.fullmatch(key):
                text = (key + equals)[:40].decode("utf-8", "backslashreplace")
                raise UnreadableError(
                    "not key=value", f"'{text}'", "no blanks around '='; blanks separate the pairs"
                )
        if len(set(keys)) < len(keys):
            duplicate = Counter(keys).most_common(1)[0][0]
            raise UnreadableError("duplicate key", duplicate.decode("ascii")[:60])
        values = _parse_values(pairs)
        names = tuple(key.decode("ascii") for key in keys)
        if names != self._names:
            self._names = names
        self._keys, self._tokens, self._values = keys, tokens, values
        return DecodedRecord(self._names, values)


def _split_pairs(data: bytes) -> list[bytes]:
    """Split a record into pairs; blanks inside quotes do not separate."""
    if b'"' not in data:
        return data.split()
    if _TOKEN.sub(b"", data).strip():
        raise UnreadableError("unterminated quote")
    return _TOKEN.findall(data)


def _parse_values(pairs: Sequence[tuple[bytes, bytes, bytes]]) -> list[RawValue]:
    """Parse the values of some pairs, all as numbers where possible."""
    numbers = parse_numbers([text for _, _, text in pairs])
    return numbers if numbers is not None else [_parse_value(key, text) for key, _, text in pairs]


def _parse_value(key: bytes, text: bytes) -> RawValue:
    """Parse one value; only a word may contain a further `=`."""
    if b"=" in text and text[:1].isalpha():
        return text.decode("utf-8")
    return parse_cell(text, key.decode("ascii", "backslashreplace"))
