"""The calls that stand: when each was made by the clock on the wall, by whom, and whether it may still be taken back.

Takes: entries, as a listener, and calls that wait for the first frame.  Gives: `Made`, per call.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from bridge.notes import Told
from rules.judge.entries import CallEntered, CallRetracted

TAKE_BACK_S = 10.0
"""For so long a call may be taken back; what follows from it has been acted on after that."""


@dataclass(frozen=True, slots=True)
class Made:
    """One making of a call; `utc` is seconds since 1970, `sim_s` None while it waits for the first frame."""

    call: str
    by: str
    utc: float
    sim_s: float | None


class Spoken:
    """A listener that remembers the makings of every call, oldest first."""

    def __init__(self, wall: Callable[[], float] = time.time) -> None:
        """Nothing said yet.

        Args:
            wall: seconds since 1970.
        """
        self._wall = wall
        self._made: dict[str, list[Made]] = {}

    def __call__(self, told: Told) -> None:
        """Take one entry."""
        if isinstance(told, CallEntered):
            self._enter(told)
        elif isinstance(told, CallRetracted):
            self._forget(told.call)

    def latest(self, call: str) -> Made | None:
        """When it was made last; None where it was not, or was taken back."""
        made = self._made.get(call)
        return made[-1] if made else None

    def left_s(self, call: str) -> float:
        """For how long its latest making may still be taken back, in seconds; 0 where it may not."""
        made = self.latest(call)
        return max(0.0, TAKE_BACK_S - (self._wall() - made.utc)) if made else 0.0

    def early(self, call: str, by: str) -> None:
        """A call was made before the first frame, and waits for it."""
        self._made.setdefault(call, []).append(Made(call, by, self._wall(), None))

    def forget_early(self, call: str) -> None:
        """A call that waits was taken back."""
        self._forget(call)

    def _enter(self, told: CallEntered) -> None:
        made = self._made.setdefault(told.call, [])
        waiting = next((at for at, one in enumerate(made) if one.sim_s is None), None)
        if waiting is None:
            made.append(Made(told.call, told.by, self._wall(), told.sim_s))
        else:
            made[waiting] = Made(told.call, told.by or made[waiting].by, made[waiting].utc, told.sim_s)

    def _forget(self, call: str) -> None:
        if self._made.get(call):
            self._made[call].pop()
