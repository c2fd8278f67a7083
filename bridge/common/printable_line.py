"""One clean line of a typed text.

Sessions store such lines, and an erasure looks for them, so both must clean a text in the same way.

Takes: a text.  Gives: the text without unprintable characters and repeated spaces.
"""

from __future__ import annotations


def printable_line(text: str) -> str:
    """Replace unprintable characters by spaces, and several spaces by one; '' where nothing is left."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
