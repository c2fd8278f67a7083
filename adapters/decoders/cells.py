"""Cells of text formats: what counts as a number, a word, a quoted text, or nothing.

    number   [+-] digits [. digits] [e [+-] digits]       ASCII only; no `1_000`, no `0x`, no decimal comma
    word     a letter or `_`, then letters, digits, `_`, `.`, `-`, `/` and blanks inside
    text     "anything in double quotes"; `""` inside is one quote
    nothing  an empty cell, or nan, inf, infinity with or without sign: the field has no value

Takes: bytes of cells.  Gives: raw values, or `Unreadable`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from adapters.decoders.base import RawValue, UnreadableError

# In this alphabet `float` has exactly the grammar above: without `_`, letters or other scripts' digits.
_NUMBER_LETTERS = b"0123456789+-.eE \t"
_WORD = re.compile(r"[^\W\d][\w./\- ]*")
_NO_VALUE = re.compile(r"[+-]?(?:nan(?:\([^)]*\))?|inf|infinity)", re.IGNORECASE)
_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+")
_NUMBER_WITH_UNIT = re.compile(r"[+-]?\d[\d.]*\s*[A-Za-z%°]+.*")
_BOOLS = {"true": True, "false": False}


def parse_numbers(cells: Sequence[bytes]) -> list[RawValue] | None:
    """All cells as numbers at once; None where one of them is something else."""
    if b"".join(cells).translate(None, _NUMBER_LETTERS):
        return None
    try:
        found: list[RawValue] = list(map(float, cells))
    except ValueError:
        return None
    return None if math.inf in found or -math.inf in found else found


def parse_cell(text: bytes, name: str) -> RawValue:
    """One cell.

    Args:
        text: Its bytes, blanks around them allowed.
        name: What the cell is called, for the reason.

    Raises:
        Unreadable: It is none of the four that a cell may be.
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
        said = bare.decode("utf-8")
    except UnicodeDecodeError:
        raise UnreadableError("bytes that are not UTF-8", name) from None
    return _parse_text(said, name)


def _parse_text(text: str, name: str) -> RawValue:
    """A cell that is not a number."""
    if text[0] == '"':
        if len(text) < 2 or text[-1] != '"' or '"' in text[1:-1].replace('""', ""):
            raise UnreadableError("a quote that does not end", name)
        return text[1:-1].replace('""', '"')
    if text in _BOOLS:
        return _BOOLS[text]
    if _NO_VALUE.fullmatch(text):
        return None
    if _WORD.fullmatch(text):
        return text
    raise _not_a_value(text, name)


def _not_a_value(text: str, name: str) -> UnreadableError:
    """The refusal of a cell, with what may have gone wrong."""
    hint = ""
    if _COMMA_NUMBER.search(text) or ";" in text:
        hint = "decimal comma? numbers are written with a point"
    elif _NUMBER_WITH_UNIT.fullmatch(text):
        hint = "units do not belong on the wire; the map file names them"
    return UnreadableError("not a number, word or quoted text", f"{name} is '{text[:40]}'", hint)


def format_cell(value: RawValue) -> str:
    """A value as a cell; `cell` reads it back as it was. Figures enough for any float."""
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
    """Whether nine figures say it exactly."""
    return float(f"{value:.9g}") == value
