"""Words of items and watches in a snapshot: why one is not satisfied, found when they are first read.

Most screens show the words of a few items, and those of every item that reads a moving gauge change with each frame.  Words that
nobody reads are therefore not composed.

Takes: a function that composes words from the present state of a judge.  Gives: `Words`, `LazyWords`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple


class Words(NamedTuple):
    """Why an item or watch is not satisfied; `only_waits` is True where only time has to pass."""

    sentence: str = ""
    actual: str = ""
    wanted: str = ""
    only_waits: bool = False


NO_WORDS = Words()


class LazyWords:
    """Words that are composed when they are first read, and do not change afterwards; equal where the words are."""

    __slots__ = ("_compose", "_composed", "was_read")

    def __init__(self, compose: Callable[[], Words], composed: Words | None = None) -> None:
        """Compose nothing yet.

        Args:
            compose: composes the words; it raises an error where it is too late to do so.
            composed: the words, where they are known already.
        """
        self._compose = compose
        self._composed = composed
        self.was_read = False

    @property
    def composed(self) -> bool:
        """True if the words are known."""
        return self._composed is not None

    def read(self) -> Words:
        """Return the words, and note that they were read."""
        self.was_read = True
        return self.peek()

    def peek(self) -> Words:
        """Return the words for a comparison, which does not count as reading."""
        if self._composed is None:
            self._composed = self._compose()
        return self._composed

    def __eq__(self, other: object) -> bool:
        """Compare the words."""
        return isinstance(other, LazyWords) and self.peek() == other.peek()

    def __hash__(self) -> int:
        """Hash the words."""
        return hash(self.peek())

    def __repr__(self) -> str:
        """Show the words, if they are known."""
        return repr(self._composed) if self.composed else "not composed"
