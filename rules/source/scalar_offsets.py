"""Source offset of each character of a scalar, through quotes, escapes, folds and block styles.

YAML 1.2.2, sections 7.3 (flow scalars) and 8.1 (block scalars).

Takes: the raw text of a scalar, its style and its value.  Gives: for each character of the value the offset of its source.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from itertools import islice

_PROPERTIES = re.compile(r"(?:[&!][^\s]*(?:\s+|\s*#[^\n]*\n\s*)*)*")
_ESCAPE = re.compile(r"\\(?:x[0-9a-fA-F]{2}|u[0-9a-fA-F]{4}|U[0-9a-fA-F]{8}|.)", re.DOTALL)
_HIGH_PAIR = re.compile(r"\\u[dD][89abAB][0-9a-fA-F]{2}\\u[dD][c-fC-F][0-9a-fA-F]{2}")

SourceChar = tuple[str, int]
"""A character of the value and the offset of its source; '' for an escape, whose value is not compared."""


def source_offsets(raw: str, style: str, value: str) -> list[int]:
    """Map a value's characters to its raw text.

    Args:
        raw: the scalar as written, from its first character (tag and anchor included).
        style: '' plain, or one of ' " | >.
        value: the value that the parser read.

    Returns:
        One offset for each character, and one for the end.  Empty where raw text and value do not match.
    """
    properties = _PROPERTIES.match(raw)
    skip = properties.end() if properties else 0
    for reader in _scanners(raw, skip, style):
        chars = list(islice(reader, len(value)))
        if len(chars) == len(value) and all(
            got in ("", want) for (got, _), want in zip(chars, value, strict=True)
        ):
            return [*(at for _, at in chars), chars[-1][1] + 1 if chars else skip]
    return []


def _scanners(raw: str, start: int, style: str) -> Iterator[Iterator[SourceChar]]:
    """Give the scanners for a style; the indentation of a block is not recorded, so each possible one is tried."""
    if style in _FLOW:
        yield _FLOW[style](raw, start)
        return
    spans = list(_lines(raw, raw.find("\n", start) + 1))
    first = next((span for span in spans if raw[slice(*span)].strip(" ")), (0, 0))
    line = raw[slice(*first)]
    for indent in range(len(line) - len(line.lstrip(" ")), -1, -1):
        yield _BLOCK[style](raw, [(min(begin + indent, end), end) for begin, end in spans])


def _lines(raw: str, start: int) -> Iterator[tuple[int, int]]:
    """Give begin and end of each line of the raw text, without its line break."""
    while True:
        stop = raw.find("\n", start)
        end = stop if stop >= 0 else len(raw)
        yield start, end - (end > start and raw[end - 1] == "\r")
        if stop < 0:
            return
        start = stop + 1


def _folds(raw: str, start: int, stop: int) -> Iterator[tuple[int, int, str]]:
    """Give the parts of a flow scalar, each with the break before it: '' (first), ' ' or newlines."""
    blanks = 0
    spans = list(_lines(raw[:stop], start))
    for number, span in enumerate(spans):
        first, last = number == 0, number == len(spans) - 1
        begin, end = _trim(raw, span, left=not first, right=not last)
        if begin == end and not first and not last:
            blanks += 1
            continue
        yield begin, end, "" if first else ("\n" * blanks or " ")
        blanks = 0


def _trim(raw: str, span: tuple[int, int], *, left: bool, right: bool) -> tuple[int, int]:
    """Trim the outer blanks of a line; an escaped blank stays."""
    begin, end = span
    while left and begin < end and raw[begin] in " \t":
        begin += 1
    while right and end > begin and raw[end - 1] in " \t" and not _is_escaped(raw, end - 1, begin):
        end -= 1
    return begin, end


def _is_escaped(raw: str, at: int, begin: int) -> bool:
    """Check for an odd number of backslashes before this character."""
    count = 0
    while at - 1 - count >= begin and raw[at - 1 - count] == "\\":
        count += 1
    return count % 2 == 1


def _plain(raw: str, start: int) -> Iterator[SourceChar]:
    """Scan a plain scalar: line breaks fold, blanks at the ends of lines are dropped."""
    for begin, end, gap in _folds(raw, start, len(raw.rstrip())):
        yield from ((char, begin - 1) for char in gap)
        yield from ((raw[at], at) for at in range(begin, end))


def _single(raw: str, start: int) -> Iterator[SourceChar]:
    """Scan single quotes: as plain, and two quotes are one."""
    for begin, end, gap in _folds(raw, start + 1, raw.rindex("'")):
        yield from ((char, begin - 1) for char in gap)
        at = begin
        while at < end:
            yield raw[at], at
            at += 2 if raw[at] == "'" else 1


def _double(raw: str, start: int) -> Iterator[SourceChar]:
    """Scan double quotes: as plain, with escapes; a backslash at the end of a line joins it to the next."""
    joined = False
    for begin, end, gap in _folds(raw, start + 1, raw.rindex('"')):
        yield from ((char, begin - 1) for char in ("\n" * gap.count("\n") if joined else gap))
        joined = (
            raw[end - 1 : end] == "\\"
            and not _is_escaped(raw, end - 1, begin)
            and raw[end : end + 2].lstrip("\r")[:1] == "\n"
        )
        at = begin
        while at < end - joined:
            escape = _HIGH_PAIR.match(raw, at) or _ESCAPE.match(raw, at)
            yield ("" if escape else raw[at]), at
            at = escape.end() if escape else at + 1


def _literal(raw: str, spans: list[tuple[int, int]]) -> Iterator[SourceChar]:
    """Scan a literal block: every line break stays."""
    for begin, end in spans:
        yield from ((raw[at], at) for at in range(begin, end))
        yield "\n", end


def _folded(raw: str, spans: list[tuple[int, int]]) -> Iterator[SourceChar]:
    """Scan a folded block: a break between two lines is a space, unless one is blank or indented further."""
    blanks, before = 0, ""
    for begin, end in spans:
        line = raw[begin:end]
        if not line:
            blanks += 1
            continue
        yield from ((char, begin - 1) for char in _gap(before, line, blanks))
        yield from ((raw[at], at) for at in range(begin, end))
        blanks, before = 0, line
    yield from (("\n", len(raw)) for _ in range(blanks + 1))


def _gap(before: str, line: str, blanks: int) -> str:
    """Fold the break between two lines of a folded block."""
    if not before:
        return "\n" * blanks
    if line[0] in " \t" or before[0] in " \t":
        return "\n" * (blanks + 1)
    return "\n" * blanks or " "


_FLOW: dict[str, Callable[[str, int], Iterator[SourceChar]]] = {"": _plain, "'": _single, '"': _double}
_BLOCK: dict[str, Callable[[str, list[tuple[int, int]]], Iterator[SourceChar]]] = {
    "|": _literal,
    ">": _folded,
}
