"""Cleans the texts of plain data that a stranger may have written: a message of a recording, a row of a store.

Takes: a text, or plain data.  Gives: the same, with U+FFFD for each character that a screen must not get.
"""

from __future__ import annotations

from typing import Any

from rules.words import printable

KEPT = "\n\r\t"
"""Control characters that stay: a trip sheet has lines."""


def printable_texts(value: Any) -> Any:  # noqa: ANN401 - any plain data
    """Clean the texts in a value, names included; other values stay as they are."""
    match value:
        case str():
            return printable(value, KEPT)
        case dict():
            return {printable_texts(key): printable_texts(each) for key, each in value.items()}
        case list():
            return [printable_texts(each) for each in value]
    return value
