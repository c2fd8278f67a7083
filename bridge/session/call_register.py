"""The calls that stand: when each was made by the clock on the wall, by whom, and whether it may still be taken back.

Takes: entries, as a listener, and calls that wait for the first frame.  Gives: `Made`, per call.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from bridge.session.session_events import SessionEvent
from rules.judge.events import CallEntered, CallUndone

UNDO_WINDOW_S = 10.0
"""For so long a call may be taken back; what follows from it has been acted on after that."""


@dataclass(frozen=True, slots=True)
class RegisteredCall:
    """One making of a call; `utc` is seconds since 1970, `sim_s` None while it waits for the first frame."""

    call: str
    by: str
    utc: float
    sim_s: float | None


class CallRegister:
    """A listener that remembers the makings of every call, oldest first."""

    def __init__(self, wall_clock: Callable[[], float] = time.time) -> None:
        """Nothing said yet.

        Args:
            wall_clock: seconds since 1970.
        """
        self._wall_clock = wall_clock
        self._calls: dict[str, list[RegisteredCall]] = {}

    def __call__(self, event: SessionEvent) -> None:
        """Take one entry."""
        if isinstance(event, CallEntered):
            self._add(event)
        elif isinstance(event, CallUndone):
            self._drop_latest(event.call)

    def latest(self, call: str) -> RegisteredCall | None:
        """When it was made last; None where it was not, or was taken back."""
        made = self._calls.get(call)
        return made[-1] if made else None

    def undo_left_s(self, call: str) -> float:
        """For how long its latest making may still be taken back, in seconds; 0 where it may not."""
        made = self.latest(call)
        return max(0.0, UNDO_WINDOW_S - (self._wall_clock() - made.utc)) if made else 0.0

    def add_pending(self, call: str, by: str) -> None:
        """A call was made before the first frame, and waits for it."""
        self._calls.setdefault(call, []).append(RegisteredCall(call, by, self._wall_clock(), None))

    def drop_pending(self, call: str) -> None:
        """A call that waits was taken back."""
        self._drop_latest(call)

    def _add(self, event: CallEntered) -> None:
        made = self._calls.setdefault(event.call, [])
        waiting = next((at for at, one in enumerate(made) if one.sim_s is None), None)
        if waiting is None:
            made.append(RegisteredCall(event.call, event.by, self._wall_clock(), event.sim_s))
        else:
            made[waiting] = RegisteredCall(
                event.call, event.by or made[waiting].by, made[waiting].utc, event.sim_s
            )

    def _drop_latest(self, call: str) -> None:
        if self._calls.get(call):
            self._calls[call].pop()
