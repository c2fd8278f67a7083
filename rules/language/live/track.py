"""Runs: the pieces of time in which something did not change, with what happens twice at one moment put right.

Everything is constant on [a, b).  Of several values given for one moment the last counts: the others
held for no time at all, and so leave no trace (the simulator may be paused while switches are moved).

Takes: a value at a time, one after the other.  Gives: `Run`, `Track`.
"""

from __future__ import annotations

from math import inf
from typing import Generic, NamedTuple, TypeVar

from rules.language.live.agenda import Agenda

V = TypeVar("V")


class Run(NamedTuple, Generic[V]):
    """A value, since when, and the value just before."""

    value: V | None
    start_s: float
    left: V | None

    @property
    def leading(self) -> bool:
        """True for the unknown before anything was known."""
        return self.value is None and self.start_s == -inf


class Track(Generic[V]):
    """The present run, and the one before it in case this moment is not over."""

    __slots__ = ("_agenda", "_before", "run")

    def __init__(self, agenda: Agenda) -> None:
        self._agenda = agenda
        self.run: Run[V] = Run(None, -inf, None)
        self._before = self.run

    def feed(self, value: V | None) -> Run[V] | None:
        """Take a new value at the agenda's present time.

        Returns:
            The run that became history by it, None if there is none.  The same run may come again,
            longer, when its end turns out to have been for no time.
        """
        now_s = self._agenda.now_s
        if now_s == self._agenda.origin_s:
            self.run = Run(value, -inf, value)
            return None
        ended = None
        if self.run.start_s < now_s:
            ended = self._before = self.run
        before = self._before
        self.run = before if before.value == value else Run(value, now_s, before.value)
        return ended
