"""Texts of a pack that are shown as they are written: titles, labels, challenges.

Takes: a text.  Gives: the same text, or a validation error.
"""

from __future__ import annotations

from rules.source import validation_error

_WHERE = "say, answer and the text of a callout give values"


def label_text(text: str) -> str:
    """Check the label of an item or watch; a `*` in it is the match.

    Raises:
        PydanticCustomError: It has a brace.
    """
    if "{" in text or "}" in text:
        raise validation_error(f"'{text}' is shown as it is written", "a text without braces", _WHERE)
    return text


def plain_text(text: str) -> str:
    """Check a title, a challenge, or what the crew confirms.

    Raises:
        PydanticCustomError: It has a brace or a `*`.
    """
    if "*" in text:
        hint = "a `*` is the match only in the label and in `say` of an item or watch"
        raise validation_error(f"'{text}' is shown as it is written", "a text without `*`", hint)
    return label_text(text)
