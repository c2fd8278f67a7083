"""Calls as events: their moments are certain, once it is known that calls are entered.

Takes: entries of calls.  Gives: `CallEventNode`.
"""

from __future__ import annotations

from collections.abc import Callable
from math import inf

from rules.language.online.events import EventNode
from rules.language.online.moment_bounds import NOW, MomentBounds, TimePoint
from rules.language.truth import Truth

MAY_HAVE_BEEN_CALLED = MomentBounds().with_doubtful((-inf, 1), NOW, -inf)
"""Bounds of a call that may have been made at any time, because nobody is known to enter it."""


class CallEventNode(EventNode):
    """Call: its moments are certain where it is entered, and where it is known who made it."""

    __slots__ = ("_blank", "_entries", "_is_made_by")

    def __init__(self, is_made_by: Callable[[str], Truth]) -> None:
        super().__init__()
        self._is_made_by = is_made_by
        self._entries: list[tuple[float, Truth]] = []
        self._blank = MomentBounds()

    def set_known(self, *, known: bool) -> None:
        """Decide what it means that the call was not entered: it was not made, or it may have been at any time."""
        self._blank = MomentBounds() if known else MAY_HAVE_BEEN_CALLED
        self._renew_bounds()

    def forget_entries(self) -> None:
        """Remove all entries: they do not count any more."""
        self._entries.clear()
        self.bounds = self._blank

    def record_call(self, now_s: float, speaker: str) -> None:
        """Add the entry of a call at the present time."""
        counts = self._is_made_by(speaker)
        self._entries.append((now_s, counts))
        self._add_to_bounds(now_s, counts)
        if counts:
            for listener in self.listeners:
                listener.add(now_s, now_s)

    def was_made_at(self, at_s: float) -> bool:
        """Check for an entry of that time by a speaker who is wanted, or not known."""
        return any(entry_s == at_s and counts is not False for entry_s, counts in self._entries)

    def undo_call(self) -> None:
        """Remove the latest entry; earlier ones stay."""
        if not self._entries:
            return
        removed_s, counts = self._entries.pop()
        self._renew_bounds()
        if counts and (removed_s, True) not in self._entries:
            for listener in self.listeners:
                listener.drop(removed_s)

    def _renew_bounds(self) -> None:
        """Make the bounds from the entries."""
        self.bounds = self._blank
        for entry in self._entries:
            self._add_to_bounds(*entry)

    def _add_to_bounds(self, at_s: float, counts: Truth) -> None:
        moment: TimePoint = (at_s, 1)
        if counts:
            self.bounds = self.bounds.with_sure(moment, moment)
        elif counts is None:
            self.bounds = self.bounds.with_doubtful(moment, moment, -inf)

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002 - a call changes only when it is entered
        """Report a change after a call."""
        return True
