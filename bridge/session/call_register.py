"""Calls that were entered and not undone: when, by whom, and how long each can still be undone.

Takes: events, as a subscriber, and calls that wait for the first frame.  Gives: `RegisteredCall`, by call.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from rules.judge.events import CallEntered, CallUndone

UNDO_WINDOW_S = 10.0
"""A call can be undone for this long; later the crew has acted on its consequences."""


@dataclass(frozen=True, slots=True)
class RegisteredCall:
    """One entry of a call; `utc` is seconds since 1970, `sim_s` None while the call waits for the first frame."""

    call: str
    by: str
    utc: float
    sim_s: float | None


class CallRegister:
    """A subscriber that collects the entries of every call, oldest first."""

    EVENTS = (CallEntered, CallUndone)

    def __init__(self, wall_clock: Callable[[], float] = time.time) -> None:
        """Start empty.

        Args:
            wall_clock: seconds since 1970.
        """
        self._wall_clock = wall_clock
        self._calls: dict[str, list[RegisteredCall]] = {}

    def __call__(self, event: CallEntered | CallUndone) -> None:
        """Fold one event of `EVENTS`."""
        if isinstance(event, CallEntered):
            self._add(event)
        else:
            self._drop_latest(event.call)

    def latest(self, call: str) -> RegisteredCall | None:
        """Return the latest entry of a call; None if there is none."""
        entries = self._calls.get(call)
        return entries[-1] if entries else None

    def undo_left_s(self, call: str) -> float:
        """Return how long the latest entry can still be undone, in seconds; 0 if it cannot."""
        latest = self.latest(call)
        return max(0.0, UNDO_WINDOW_S - (self._wall_clock() - latest.utc)) if latest else 0.0

    def add_pending(self, call: str, by: str) -> None:
        """Add a call that was entered before the first frame and waits for it."""
        self._calls.setdefault(call, []).append(RegisteredCall(call, by, self._wall_clock(), None))

    def drop_pending(self, call: str) -> None:
        """Remove a waiting call that was undone."""
        self._drop_latest(call)

    def _add(self, event: CallEntered) -> None:
        entries = self._calls.setdefault(event.call, [])
        waiting = next((index for index, entry in enumerate(entries) if entry.sim_s is None), None)
        if waiting is None:
            entries.append(RegisteredCall(event.call, event.by, self._wall_clock(), event.sim_s))
        else:
            entries[waiting] = RegisteredCall(
                event.call, event.by or entries[waiting].by, entries[waiting].utc, event.sim_s
            )

    def _drop_latest(self, call: str) -> None:
        if self._calls.get(call):
            self._calls[call].pop()
