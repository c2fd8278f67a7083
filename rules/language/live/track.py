"""Runs: the pieces of time in which something did not change, with what happens twice at one moment put right.

Everything is constant on [a, b).  Of several values given for one moment the last counts: the others
held for no time at all, and so leave no trace (the simulator may be paused while switches are moved).

Takes: a value at a time, one after the other.  Gives: `Run`, `Track`, and `SeenNode`, the beginning.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf
from typing import Generic, NamedTuple, TypeVar

from rules.language.live.agenda import Agenda, Node
from rules.signals.model import Value

V = TypeVar("V")


class Run(NamedTuple, Generic[V]):
    """A value, since when, and the value just before."""

    value: V | None
    start_s: float
    left: V | None


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


class SeenNode(Node):
    """When the monitors began for what comes from these signals: each has been fresh once.

    What was unknown before is no gap; what is unknown after it is one.
    """

    __slots__ = ("_agenda", "_seen_s", "_values", "begun_s")

    def __init__(self, agenda: Agenda, values: Mapping[str, Value], names: Iterable[str]) -> None:
        super().__init__()
        self._agenda = agenda
        self._values = values
        self._seen_s: dict[str, float] = dict.fromkeys(names, inf)
        self.sources = frozenset(self._seen_s)
        self.begun_s = inf

    def refresh(self, now_s: float) -> bool:
        """Look which signals are there; True where that decides."""
        if self.begun_s < now_s:
            return False
        at_s = -inf if now_s == self._agenda.origin_s else now_s
        for name, seen_s in self._seen_s.items():
            if name in self._values:
                self._seen_s[name] = min(seen_s, at_s)
            elif seen_s >= at_s:
                self._seen_s[name] = inf
        begun_s = max(self._seen_s.values(), default=at_s)
        changed = begun_s != self.begun_s
        self.begun_s = begun_s
        return changed
