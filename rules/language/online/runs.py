"""Runs: the pieces of time in which something did not change, with what happens twice at one moment put right.

Everything is constant on [a, b).  Of several values given for one moment the last counts: the others
held for no time at all, and so leave no trace (the simulator may be paused while switches are moved).

Takes: a value at a time, one after the other.  Gives: `Run`, `Track`, and `SeenNode`, the beginning.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf
from typing import Generic, NamedTuple, TypeVar

from rules.language.online.scheduler import MonitorNode, Scheduler
from rules.signals.model import Value

V = TypeVar("V")


class ValueRun(NamedTuple, Generic[V]):
    """A value, since when, and the value just before."""

    value: V | None
    start_s: float
    previous: V | None


class RunTracker(Generic[V]):
    """The present run, and the one before it in case this moment is not over."""

    __slots__ = ("_previous_run", "_scheduler", "run")

    def __init__(self, scheduler: Scheduler) -> None:
        self._scheduler = scheduler
        self.run: ValueRun[V] = ValueRun(None, -inf, None)
        self._previous_run = self.run

    def update(self, value: V | None) -> ValueRun[V] | None:
        """Take a new value at the agenda's present time.

        Returns:
            The run that became history by it, None if there is none.  The same run may come again,
            longer, when its end turns out to have been for no time.
        """
        now_s = self._scheduler.now_s
        if now_s == self._scheduler.origin_s:
            self.run = ValueRun(value, -inf, value)
            return None
        ended = None
        if self.run.start_s < now_s:
            ended = self._previous_run = self.run
        before = self._previous_run
        self.run = before if before.value == value else ValueRun(value, now_s, before.value)
        return ended


class DataStartNode(MonitorNode):
    """When the monitors began for what comes from these signals: each has been fresh once.

    What was unknown before is no gap; what is unknown after it is one.
    """

    __slots__ = ("_first_fresh_s", "_scheduler", "_values", "data_start_s")

    def __init__(self, scheduler: Scheduler, values: Mapping[str, Value], names: Iterable[str]) -> None:
        super().__init__()
        self._scheduler = scheduler
        self._values = values
        self._first_fresh_s: dict[str, float] = dict.fromkeys(names, inf)
        self.signals = frozenset(self._first_fresh_s)
        self.data_start_s = inf

    def refresh(self, now_s: float) -> bool:
        """Look which signals are there; True where that decides."""
        if self.data_start_s < now_s:
            return False
        at_s = -inf if now_s == self._scheduler.origin_s else now_s
        for name, seen_s in self._first_fresh_s.items():
            if name in self._values:
                self._first_fresh_s[name] = min(seen_s, at_s)
            elif seen_s >= at_s:
                self._first_fresh_s[name] = inf
        begun_s = max(self._first_fresh_s.values(), default=at_s)
        changed = begun_s != self.data_start_s
        self.data_start_s = begun_s
        return changed
