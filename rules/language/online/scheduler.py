"""Scheduler: timers, the queue of affected nodes by rank, and the base class of all nodes.

A rank is one more than the highest rank of a node's inputs.  Going through the queue by rank evaluates each node
at most once per step, after all its inputs:

    rank 0    p        q            changed signals queue these
    rank 1    p and q  not q        evaluated once, although two inputs changed
    rank 2    (p and q) or (not q)  evaluated last

Takes: nodes to wake at a time or to queue now.  Gives: `Scheduler`, `MonitorNode`, `NumberNode`, `CountingNode`.
"""

from __future__ import annotations

from heapq import heappop, heappush
from math import inf, nan

from rules.language.truth import Truth


class MonitorNode:
    """Node of one sub-condition, shared by all conditions that contain it.

    `rank` is one more than the highest rank of its inputs.  `timer_s` is its earliest timer, infinity for none.
    `signals` are the signals that it depends on, directly or through other nodes.
    """

    __slots__ = (
        "condition_ids",
        "counting_parents",
        "parents",
        "queued",
        "rank",
        "signals",
        "timer_s",
        "truth",
    )

    def __init__(self, *children: MonitorNode) -> None:
        self.truth: Truth = None
        self.parents: list[MonitorNode] = []
        self.counting_parents: list[CountingNode] = []
        self.condition_ids: tuple[str, ...] = ()
        self.queued = False
        self.timer_s = inf
        self.rank: int = 1 + max((child.rank for child in children), default=-1)
        self.signals: frozenset[str] = frozenset().union(*(child.signals for child in children))
        for child in children:
            child.parents.append(self)

    def refresh(self, now_s: float) -> bool:
        """Evaluate the node at this time; True where its result changed."""
        raise NotImplementedError


class NumberNode(MonitorNode):
    """Node with a number (None for unknown) instead of a truth."""

    __slots__ = ("value",)

    def __init__(self, *children: MonitorNode) -> None:
        super().__init__(*children)
        self.value: float | None = None


class CountingNode(MonitorNode):
    """Node that is notified of each change of an input's truth, and so need not read all inputs."""

    __slots__ = ()

    def child_changed(self, old: Truth, new: Truth) -> None:
        """Count the change of one input from `old` to `new`."""
        raise NotImplementedError


class Scheduler:
    """Time, timers and queued nodes of one set of monitors.

    `origin_s` is the time whose values count as having lasted since before the start; NaN for none.  `bridged_gap_s` is
    the start and end of the latest gap, infinity where it is none or too long to be bridged.
    """

    __slots__ = ("_heap", "_ranks", "_sequence", "bridged_gap_s", "now_s", "origin_s", "previous_truths")

    def __init__(self) -> None:
        self.now_s = -inf
        self.origin_s = nan
        self.bridged_gap_s = (inf, inf)
        self.previous_truths: dict[MonitorNode, Truth] = {}
        self._heap: list[tuple[float, int, MonitorNode]] = []
        self._ranks: list[list[MonitorNode]] = []
        self._sequence = 0

    @property
    def next_timer_s(self) -> float:
        """Time before which no timer is due; infinity where none is set."""
        return self._heap[0][0] if self._heap else inf

    @property
    def pending(self) -> bool:
        """True where a node is queued for the next step."""
        return any(self._ranks)

    def queue(self, node: MonitorNode) -> None:
        """Queue the node for this step."""
        if node.queued:
            return
        node.queued = True
        try:
            self._ranks[node.rank].append(node)
        except IndexError:
            self._ranks += ([] for _ in range(len(self._ranks), node.rank))
            self._ranks.append([node])

    def wake_at(self, node: MonitorNode, due_s: float) -> None:
        """Set a timer for the node; past and infinite times are ignored."""
        if self.now_s < due_s < node.timer_s:
            node.timer_s = due_s
            self._sequence += 1
            heappush(self._heap, (due_s, self._sequence, node))

    def run_until(self, sim_s: float) -> None:
        """Go to `sim_s`: run earlier timers each at its own time, and queue those that are due at that time."""
        heap = self._heap
        while heap and heap[0][0] < sim_s:
            self._fire_timers(heap[0][0])
            self.propagate()
        self._fire_timers(sim_s)

    def _fire_timers(self, now_s: float) -> None:
        """Set the time and queue the nodes whose timer is due."""
        self.now_s = now_s
        heap = self._heap
        while heap and heap[0][0] <= now_s:
            due_s, _, node = heappop(heap)
            if due_s == node.timer_s:
                node.timer_s = inf
                self.queue(node)

    def propagate(self) -> None:
        """Evaluate queued nodes by rank, and queue the nodes that depend on a changed result."""
        now_s = self.now_s
        for rank in self._ranks:
            if not rank:
                continue
            for node in rank:
                node.queued = False
                old = node.truth
                if node.refresh(now_s):
                    self.notify_parents(node, old)
            rank.clear()

    def notify_parents(self, node: MonitorNode, old: Truth) -> None:
        """Queue and notify the parents of a changed node."""
        if node.condition_ids:
            self.previous_truths.setdefault(node, old)
        for counter in node.counting_parents:
            counter.child_changed(old, node.truth)
        for parent in node.parents:
            self.queue(parent)
