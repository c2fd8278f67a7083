"""Cleans the texts of a message from a recording, which a stranger may have written.

Our own recordings have nothing to clean, since texts are cleaned before they are recorded; their bytes stay as they are.

Takes: the JSON of a message.  Gives: the same, with U+FFFD for each character that a screen must not get.
"""

from __future__ import annotations

import re
from typing import Any

import msgspec

from rules.words import printable

KEPT = "\n\r\t"
"""Control characters that stay: a trip sheet has lines."""
_ESCAPES = re.compile(rb"\\[ubf]")


def clean_body(body: bytes) -> bytes:
    """Clean a message; one that is not JSON is returned as it is."""
    try:
        if not _ESCAPES.search(body) and body.decode().isprintable():
            return body
        plain = msgspec.json.decode(body)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        return body
    cleaned = _clean(plain)
    return body if cleaned == plain else msgspec.json.encode(cleaned)


def _clean(value: Any) -> Any:  # noqa: ANN401 - any JSON
    """Clean the texts in a value, names included."""
    match value:
        case str():
            return printable(value, KEPT)
        case dict():
            return {printable(key, KEPT): _clean(each) for key, each in value.items()}
        case list():
            return [_clean(each) for each in value]
    return value
