"""Cleans the texts of a message from a recording, which a stranger may have written.

Our own recordings have nothing to clean, since texts are cleaned before they are recorded; their bytes stay as they are.

Takes: the JSON of a message.  Gives: the same, with U+FFFD for each character that a screen must not get.
"""

from __future__ import annotations

import re

import msgspec

from bridge.common.printable_texts import printable_texts

_ESCAPES = re.compile(rb"\\[ubf]")


def clean_body(body: bytes) -> bytes:
    """Clean a message; one that is not JSON is returned as it is."""
    try:
        if not _ESCAPES.search(body) and body.decode().isprintable():
            return body
        plain = msgspec.json.decode(body)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
        return body
    cleaned = printable_texts(plain)
    return body if cleaned == plain else msgspec.json.encode(cleaned)
