"""Merges the values given for one moment, so that a value that lasted for no time leaves no trace.

Everything is constant on [a, b).  Of several values given for one moment the last counts: the others
lasted for no time and leave no trace (the simulator may be paused while switches are moved):

    at 10 s   on        at 12 s   off, on
    run       [10, ...) on continues: off lasted for no time

Takes: a value at a time, one after the other.  Gives: `ValueRun`, `RunTracker`; `SignalNode` and `DataStartNode`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from math import inf
from typing import Generic, NamedTuple, TypeVar

from rules.language.online.scheduler import MonitorNode, Scheduler
from rules.signals.model import Value

V = TypeVar("V")


class ValueRun(NamedTuple, Generic[V]):
    """Run: its value, its start, and the value before it.

    After an unknown time, `unknown_s` is the start of that time, and `known_before` the value before it, None for none;
    `bridges` is true where that is the same value, and the time no more than a short gap.
    """

    value: V | None
    start_s: float
    previous: V | None
    unknown_s: float = inf
    known_before: V | None = None
    bridges: bool = False


class RunTracker(Generic[V]):
    """Tracks the present run, and the one before it in case the present moment is not over."""

    __slots__ = ("_previous_run", "_scheduler", "run")

    def __init__(self, scheduler: Scheduler) -> None:
        self._scheduler = scheduler
        self.run: ValueRun[V] = ValueRun(None, -inf, None)
        self._previous_run = self.run

    def update(self, value: V | None) -> ValueRun[V] | None:
        """Set a new value at the scheduler's present time.

        Returns:
            The run that ended, None if none did.  The same run may be returned again with a later end,
            when the value that ended it lasted for no time.
        """
        now_s, run, ended = self._scheduler.now_s, self.run, None
        if now_s == self._scheduler.origin_s:
            self.run = ValueRun(value, -inf, value)
            return None
        if run.start_s < now_s:
            ended = self._previous_run = run
        before = self._previous_run
        if before.value == value:
            self.run = before
        elif before.value is not None:
            self.run = ValueRun(value, now_s, before.value)
        else:
            self.run = self._run_after_unknown(before, value, now_s)
        return ended

    def _run_after_unknown(self, before: ValueRun[V], value: V | None, now_s: float) -> ValueRun[V]:
        """Make the run that follows an unknown time."""
        bridges = value == before.previous and self._scheduler.bridged_gap_s == (before.start_s, now_s)
        return ValueRun(value, now_s, None, before.start_s, before.previous, bridges)


class SignalNode(MonitorNode):
    """Signal value at the time of the step, None where it is not fresh.

    The state may be ahead: while timers between two steps run, it already has the values of the
    later step.  Nodes that a timer can wake read signals through this node.
    """

    __slots__ = ("_get", "_name", "value")

    def __init__(self, get: Callable[[str], Value | None], name: str) -> None:
        super().__init__()
        self._get = get
        self._name = name
        self.signals = frozenset((name,))
        self.value: Value | None = None

    def refresh(self, now_s: float) -> bool:  # noqa: ARG002 - queued only when a sample came
        """Read the value; True where it changed."""
        old, self.value = self.value, self._get(self._name)
        return old != self.value


class DataStartNode(MonitorNode):
    """Start of the data of these signals: the time at which each has been fresh once.

    Unknown times before it are no gaps; unknown times after it are.
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
        """Check which signals are fresh; True where the start changed."""
        if self.data_start_s < now_s:
            return False
        at_s = -inf if now_s == self._scheduler.origin_s else now_s
        for name, seen_s in self._first_fresh_s.items():
            if name in self._values:
                self._first_fresh_s[name] = min(seen_s, at_s)
            elif seen_s >= at_s:
                self._first_fresh_s[name] = inf
        start_s = max(self._first_fresh_s.values(), default=at_s)
        changed = start_s != self.data_start_s
        self.data_start_s = start_s
        return changed
