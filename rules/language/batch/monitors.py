"""Monitors over columns: driven from one step at which a comparison changes, or a timer is due, to the next.

Comparisons, windows and sums come from columns.  What is made of their truths (and, or, holds, events) hangs on calls and
on what the judge says of items, so it is worked out by the live nodes, but only at the moments at which something changes.

Takes: checked conditions, a stretch.  Gives: `ColumnMonitors` and the `Cursor` that says at which step all stand.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np

from rules.language.batch.graph import ColumnGraph
from rules.language.batch.lines import UNKNOWN
from rules.language.batch.terms import Columns
from rules.language.checked import Condition, Term
from rules.language.explain import LABELS, Names
from rules.language.live.conditions import AtomNode
from rules.language.live.monitors import Known, Monitors
from rules.language.truth import Truth
from rules.signals.columns import Stretch
from rules.signals.model import Sample

Turn: TypeAlias = tuple[int, float, AtomNode, Truth]
"""A comparison's truth becomes another: key and time of the point, its node, the truth."""

_TRUTHS: Mapping[int, Truth] = {1: True, 0: False, UNKNOWN: None}


@dataclass(slots=True)
class Cursor:
    """At which step of which stretch everything stands."""

    stretch: Stretch
    step: int = 0


@dataclass(slots=True)
class _Plan:
    """What happens in a stretch, in its order: the turns of comparisons, and the steps at which nodes look for themselves.

    `steps` are those with any of it.
    """

    turns: list[Turn] = field(default_factory=list)
    looks: dict[int, list[str]] = field(default_factory=dict)
    steps: list[int] = field(default_factory=list)
    next: int = 0


class ColumnMonitors(Monitors):
    """Monitors that take the truths of comparisons from columns; `load` a stretch before its first step."""

    def __init__(
        self,
        conditions: Mapping[str, Condition],
        state: Known,
        cursor: Cursor,
        *,
        calls_heard: bool = True,
        names: Names = LABELS,
    ) -> None:
        self._cursor = cursor
        self._plan = _Plan()
        self._at = -1
        self._found: set[str] = set()
        super().__init__(conditions, state, calls_heard=calls_heard, names=names)

    def _make_graph(self) -> ColumnGraph:
        self._columned = ColumnGraph(self._conditions, self._state.values)
        return self._columned

    def load(self) -> None:
        """Work out when comparisons change in the cursor's stretch."""
        stretch = self._cursor.stretch
        self._columns = Columns(stretch)
        self._at, self._found = -1, set()
        turns = self._all_turns()
        looks = self._all_looks()
        steps = sorted({turn[0] >> 1 for turn in turns} | looks.keys())
        self._plan = _Plan(turns, looks, steps)

    def _all_turns(self) -> list[Turn]:
        """The turns of every comparison, in the order of their points."""
        keys, times, owners, truths = [], [], [], []
        nodes = list(self._columned.told.items())
        sim_s = self._cursor.stretch.sim_s
        for number, (atom, _) in enumerate(nodes):
            turns = self._columns.turns(atom)
            keys.append(turns.key)
            times.append(sim_s[turns.key >> 1] if turns.time_s is None else turns.time_s)
            owners.append(np.full(len(turns.key), number))
            truths.append(turns.truth)
        if not nodes:
            return []
        key, time_s = np.concatenate(keys), np.concatenate(times)
        order = np.lexsort((time_s, key))
        parts = (key, time_s, np.concatenate(owners), np.concatenate(truths))
        listed = zip(*(part[order].tolist() for part in parts), strict=True)
        return [(key, at_s, nodes[owner][1], _TRUTHS[truth]) for key, at_s, owner, truth in listed]

    def _all_looks(self) -> dict[int, list[str]]:
        """By step the signals for which nodes look: their coming and going, and every change where a count reads them."""
        looks: dict[int, list[str]] = {}
        live = set(self._columned.live_names)
        for name in self._columned.watchers:
            column = self._cursor.stretch.columns.get(name)
            if column is not None:
                for step in (column.at if name in live else column.flips()).tolist():
                    looks.setdefault(step, []).append(name)
        return looks

    @property
    def steps(self) -> Sequence[int]:
        """The steps of the stretch at which a comparison changes, or just before which it does."""
        return self._plan.steps

    @property
    def next_s(self) -> float:
        """A time before which no timer is due."""
        return self._agenda.next_s

    @property
    def pending(self) -> bool:
        """Whether something was told that counts from the next step on."""
        return self._agenda.pending

    def go(self, step: int, calls: Sequence[str] = ()) -> set[str]:
        """Go to a step.

        Args:
            step: Not before the present one, nor beyond the next of `steps` or the next at which a timer is due.
            calls: Those made at it.

        Returns:
            The ids whose truth is another than before.
        """
        sim_s = float(self._cursor.stretch.sim_s[step])
        if self._at < 0:
            return self._first_step(step, sim_s, calls)
        if step > self._at:
            self._at = step
            self._pass_points(2 * step)
            self._agenda.run_until(sim_s)
            self._turn(2 * step + 1)
            self._look(step)
        if calls:
            self._call(calls)
        self._agenda.settle()
        self._found |= self._changed()
        return self._found

    def advance(self, sim_s: float, samples: Sequence[Sample], calls: Sequence[str] = ()) -> set[str]:  # noqa: ARG002
        """Go to the cursor's step; what a call of `go` found on the way there belongs to it."""
        self.go(self._cursor.step, calls)
        found, self._found = self._found, set()
        return found

    def value_of(self, term: Term) -> float | None:
        """The value of a term at the cursor's step."""
        return self._columned.read_at(term, self._columns, self._cursor.step)

    def _first_step(self, step: int, sim_s: float, calls: Sequence[str]) -> set[str]:
        """Look at everything once."""
        self._at = step
        agenda, graph = self._agenda, self._columned
        agenda.run_until(sim_s)
        self._begun = True
        self._call(calls)
        told = set(map(id, graph.told.values()))
        for node in graph.order:
            if id(node) not in told:
                agenda.queue(node)
        self._turn(2 * step + 1)
        agenda.settle()
        agenda.before.clear()
        self._found = {name for name, truth in self._last.items() if self.truth(name) is not truth}
        return self._found

    def _pass_points(self, key: int) -> None:
        """Take the points before a step, each at its time."""
        turns, plan = self._plan.turns, self._plan
        while plan.next < len(turns) and turns[plan.next][0] <= key:
            at_s = turns[plan.next][1]
            self._agenda.run_until(at_s)
            while plan.next < len(turns) and turns[plan.next][0] <= key and turns[plan.next][1] == at_s:
                self._tell_atom(turns[plan.next])
                plan.next += 1
            self._agenda.settle()

    def _turn(self, key: int) -> None:
        """Take the turns of a step itself."""
        turns, plan = self._plan.turns, self._plan
        while plan.next < len(turns) and turns[plan.next][0] <= key:
            self._tell_atom(turns[plan.next])
            plan.next += 1

    def _tell_atom(self, turn: Turn) -> None:
        node, truth = turn[2], turn[3]
        if node.truth is not truth:
            old, node.truth = node.truth, truth
            self._agenda.spread(node, old)

    def _look(self, step: int) -> None:
        """Let nodes look for themselves whose signals came, went or changed."""
        for name in self._plan.looks.get(step, ()):
            for node in self._columned.watchers[name]:
                self._agenda.queue(node)
