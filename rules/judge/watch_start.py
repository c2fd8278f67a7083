"""Decides if the flight has been watched from its beginning: only then has an unseen event not happened.

A flight is watched from its beginning where the first frame shows the pack's first phase, within `START_S` of the start of
the simulator's clock; and from the moment at which the flight comes back to the first phase.  Otherwise it was joined on
its way: what happened before is not known.

Takes: the first step, entries of gates.  Gives: the unseen past of the monitors.
"""

from __future__ import annotations

from rules.judge.context import JudgeContext
from rules.judge.gates import Gates

START_S = 10.0
"""Simulator's clock, in seconds, up to which a first frame is the beginning of a flight, and time after it in which a
later phase can be recognised.  Chosen by us, no source."""


class WatchStart:
    """Decides which part of the past was not watched."""

    def __init__(self, context: JudgeContext, gates: Gates, *, steady: bool) -> None:
        self._context = context
        self._gates = gates
        self._steady = steady
        self._began_s = 0.0
        self._calls_sent = False

    def start(self, *, calls_sent: bool) -> set[str]:
        """Decide at the first step.

        Args:
            calls_sent: True where the first frame contains calls: its sender stores them, so those before are known.

        Returns:
            The ids of conditions whose truth changed.
        """
        context = self._context
        self._began_s, self._calls_sent = context.sim_s, calls_sent
        at_start = abs(context.sim_s) <= START_S and not self._gates.is_past_first_phase()
        return self._set_watched(watched=at_start and not self._steady)

    def phase_changed(self) -> set[str]:
        """Decide again after a step that changed the phase; gives the ids of conditions whose truth changed."""
        context = self._context
        if self._gates.recognised:
            joined = context.watched_from_start and context.sim_s - self._began_s <= START_S
            return self._set_watched(watched=False) if joined else set()
        at_first = context.phase == context.pack.phases[0].id
        return self._set_watched(watched=True) if at_first and not context.watched_from_start else set()

    def _set_watched(self, *, watched: bool) -> set[str]:
        self._context.watched_from_start = watched
        return self._context.monitors.set_unseen_past(
            None if watched else self._began_s, calls=not self._calls_sent
        )
