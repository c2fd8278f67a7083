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
"""Bounds of a call that may have been made at any time, because nobody enters calls."""


class CallEventNode(EventNode):
    """Call: its moments are certain, once any call has been entered, where it is known who made it."""

    __slots__ = ("_entries", "_is_made_by")

    def __init__(self, is_made_by: Callable[[str], Truth]) -> None:
        super().__init__()
        self._is_made_by = is_made_by
        self._entries: list[tuple[float, Truth]] = []

    def set_unknown(self) -> None:
        """Make the call possible at any time: no call of any kind has been entered."""
        self._entries.clear()
        self.bounds = MAY_HAVE_BEEN_CALLED

    def set_not_called(self) -> None:
        """Remove all moments: calls are entered, and this one was not made or does not count any more."""
        self._entries.clear()
        self.bounds = MomentBounds()

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
        self.bounds = MomentBounds()
        for entry in self._entries:
            self._add_to_bounds(*entry)
        if counts and (removed_s, True) not in self._entries:
            for listener in self.listeners:
                listener.drop(removed_s)

    def _add_to_bounds(self, at_s: float, counts: Truth) -> None:
        moment: TimePoint = (at_s, 1)
        if counts:
            self.bounds = self.bounds.with_sure(moment, moment)
        elif counts is None:
            self.bounds = self.bounds.with_doubtful(moment, moment, -inf)

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002 - a call changes only when it is entered
        """Report a change after a call."""
        return True
