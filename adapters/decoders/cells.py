"""Parses and formats the cells of text formats: numbers, words, quoted texts and empty cells.

    number   [+-] digits [. digits] [e [+-] digits]       ASCII only; no `1_000`, no `0x`, no decimal comma
    word     a letter or `_`, then letters, digits, `_`, `.`, `-`, `/` and blanks inside
    text     "anything in double quotes"; `""` inside is one quote
    empty    an empty cell, or nan, inf, infinity with or without sign: the field has no value

Takes: the bytes of cells.  Gives: raw values, or `UnreadableError`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from adapters.decoders.base import RawValue, UnreadableError

# Python's `float` accepts more than the grammar above (`1_000`, digits of other scripts); over this alphabet it does not.
_NUMBER_LETTERS = b"0123456789+-.eE \t"
_WORD = re.compile(r"[^\W\d][\w./\- ]*")
_NO_VALUE = re.compile(r"[+-]?(?:nan(?:\([^)]*\))?|inf|infinity)", re.IGNORECASE)
_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+")
_NUMBER_WITH_UNIT = re.compile(r"[+-]?\d[\d.]*\s*[A-Za-z%°]+.*")
_BOOLS = {"true": True, "false": False}


def parse_numbers(cells: Sequence[bytes]) -> list[RawValue] | None:
    """Parse all cells as numbers in one pass; None where a cell is not a number."""
    if b"".join(cells).translate(None, _NUMBER_LETTERS):
        return None
    try:
        numbers: list[RawValue] = list(map(float, cells))
    except ValueError:
        return None
    return None if math.inf in numbers or -math.inf in numbers else numbers


def parse_cell(text: bytes, name: str) -> RawValue:
    """Parse one cell.

    Args:
        text: The cell's bytes; blanks around them are ignored.
        name: The cell's name in the reason for refusal.

    Raises:
        UnreadableError: The cell is not a number, word, text or empty.
    """
    bare = text.strip()
    if not bare:
        return None
    if not bare.translate(None, _NUMBER_LETTERS):
        try:
            value = float(bare)
        except ValueError:
            raise _not_a_value(bare.decode("ascii"), name) from None
        return value if math.isfinite(value) else None
    try:
        decoded = bare.decode("utf-8")
    except UnicodeDecodeError:
        raise UnreadableError("bytes that are not UTF-8", name) from None
    return _parse_text(decoded, name)


def _parse_text(text: str, name: str) -> RawValue:
    """Parse a cell that is not a number."""
    if text[0] == '"':
        if len(text) < 2 or text[-1] != '"' or '"' in text[1:-1].replace('""', ""):
            raise UnreadableError("unterminated quote", name)
        return text[1:-1].replace('""', '"')
    if text in _BOOLS:
        return _BOOLS[text]
    if _NO_VALUE.fullmatch(text):
        return None
    if _WORD.fullmatch(text):
        return text
    raise _not_a_value(text, name)


def _not_a_value(text: str, name: str) -> UnreadableError:
    """Make the error for a cell, with a hint at the likely cause."""
    hint = ""
    if _COMMA_NUMBER.search(text) or ";" in text:
        hint = "decimal comma? numbers are written with a point"
    elif _NUMBER_WITH_UNIT.fullmatch(text):
        hint = "units do not belong on the wire; the map file names them"
    return UnreadableError("not a number, word or quoted text", f"{name} is '{text[:40]}'", hint)


def format_cell(value: RawValue) -> str:
    """Write a value as a cell with enough digits that `parse_cell` reads the same value back."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        plain = _WORD.fullmatch(value) and value == value.strip() and not _NO_VALUE.fullmatch(value)
        return value if plain and value not in _BOOLS else '"' + value.replace('"', '""') + '"'
    return (
        repr(value)
        if isinstance(value, int)
        else f"{value:.17g}"
        if not _nine_digits_suffice(value)
        else f"{value:.9g}"
    )


def _nine_digits_suffice(value: float) -> bool:
    """Tell whether nine digits represent the value exactly."""
    return float(f"{value:.9g}") == value
