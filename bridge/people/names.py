"""A pseudonym in texts, and another word in its place.

Takes: a pseudonym.  Gives: `Blot`, which overwrites it in words and in what a session has asked and told.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

ERASED = "erased"
_NAMING = frozenset({"name", "begin", "course"})
"""What is asked with a name that somebody thought of; other requests name calls, items and seats."""
_OWN = frozenset({"confirm"})
"""What only a seat can ask: `by` is the seat's id."""


class Blot:
    """Overwrites one pseudonym, as a whole word and however it is written, with `erased`."""

    def __init__(self, pseudonym: str) -> None:
        """Learn it.

        Args:
            pseudonym: not empty.
        """
        self._pattern = re.compile(rf"(?<!\w){re.escape(pseudonym)}(?!\w)", re.IGNORECASE)

    def text(self, text: str, instead: str = ERASED) -> str:
        """A text with another word in its place."""
        return self._pattern.sub(instead, text)

    def stands_in(self, text: str) -> bool:
        """Whether it stands in a text."""
        return self._pattern.search(text) is not None

    def request(self, asked: dict[str, Any]) -> dict[str, Any]:
        """A request without it; papers stay as they are, and so do the ids of calls, items and seats."""
        verb = asked.get("verb", "")
        fields = ["by"] if verb not in _OWN else []
        fields += ["reason"] if verb != "amend" else []
        fields += ["name"] if verb in _NAMING else []
        return self._without(asked, fields)

    def told(self, entry: dict[str, Any]) -> dict[str, Any]:
        """An entry or note without it: what people wrote, and the words of an excuse."""
        fields = ["by", "text"]
        if str(entry.get("sentence", "")).startswith("excused: "):
            fields.append("sentence")
        return self._without(entry, fields)

    def head(self, head: dict[str, Any]) -> dict[str, Any]:
        """The head of a recording without it."""
        return self._without(head, ["name", "course"])

    def picture(self, picture: dict[str, Any]) -> dict[str, Any]:
        """How all stood, without it in the requests that still matter."""
        return {**picture, "requests": [self.request(asked) for asked in picture.get("requests", [])]}

    def _without(self, fields: dict[str, Any], names: list[str]) -> dict[str, Any]:
        changed: Callable[[Any], Any] = lambda v: self.text(v) if isinstance(v, str) else v  # noqa: E731
        return {name: changed(value) if name in names else value for name, value in fields.items()}
