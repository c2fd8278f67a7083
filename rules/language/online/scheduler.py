"""What is to be done and when: the timers, the queue of touched nodes, and the node they have in common.

Takes: nodes that want to be woken at a time or looked at again.  Gives: `Node`, `Cell` and `Agenda`.
"""

from __future__ import annotations

from heapq import heappop, heappush
from math import inf, nan

from rules.language.truth import Truth


class MonitorNode:
    """One sub-condition, shared by all that contain it.

    `rank` is one more than the highest rank among what it reads, so that going through the ranks
    in order looks at every node once, after all that it depends on.  `alarm_s` is its earliest
    timer, infinity for none.  `sources` are the signals that it comes from in the end.
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
        """Work out the node anew at this time; True where what it gives has changed."""
        raise NotImplementedError


class NumberNode(MonitorNode):
    """A node that gives a number (None for unknown) instead of a truth."""

    __slots__ = ("value",)

    def __init__(self, *children: MonitorNode) -> None:
        super().__init__(*children)
        self.value: float | None = None


class CountingNode(MonitorNode):
    """A node that is told of each change of a child's truth, and so need not ask all of them."""

    __slots__ = ()

    def child_changed(self, old: Truth, new: Truth) -> None:
        """Take note that one child went from `old` to `new`."""
        raise NotImplementedError


class Scheduler:
    """The time, the timers and the touched nodes of one set of monitors.

    `origin_s` is the moment whose values count as having held for ever before; not a number
    where there is none.
    """

    __slots__ = ("_heap", "_ranks", "_sequence", "now_s", "origin_s", "previous_truths")

    def __init__(self) -> None:
        self.now_s = -inf
        self.origin_s = nan
        self.previous_truths: dict[MonitorNode, Truth] = {}
        self._heap: list[tuple[float, int, MonitorNode]] = []
        self._ranks: list[list[MonitorNode]] = []
        self._sequence = 0

    @property
    def next_timer_s(self) -> float:
        """A time before which no timer is due; infinity where none waits."""
        return self._heap[0][0] if self._heap else inf

    @property
    def pending(self) -> bool:
        """Whether a node waits for the next step."""
        return any(self._ranks)

    def queue(self, node: MonitorNode) -> None:
        """Have the node looked at in this step."""
        if node.queued:
            return
        node.queued = True
        while node.rank >= len(self._ranks):
            self._ranks.append([])
        self._ranks[node.rank].append(node)

    def wake_at(self, node: MonitorNode, due_s: float) -> None:
        """Have the node looked at when that time comes; past and infinite times are no timers."""
        if self.now_s < due_s < node.timer_s:
            node.timer_s = due_s
            self._sequence += 1
            heappush(self._heap, (due_s, self._sequence, node))

    def run_until(self, sim_s: float) -> None:
        """Go to `sim_s`: timers before it run at their own time; those of that very time are queued."""
        heap = self._heap
        while heap and heap[0][0] < sim_s:
            self._fire_timers(heap[0][0])
            self.propagate()
        self._fire_timers(sim_s)

    def _fire_timers(self, now_s: float) -> None:
        """Set the time and queue the nodes whose timer is due now."""
        self.now_s = now_s
        heap = self._heap
        while heap and heap[0][0] <= now_s:
            due_s, _, node = heappop(heap)
            if due_s == node.timer_s:
                node.timer_s = inf
                self.queue(node)

    def propagate(self) -> None:
        """Refresh what is queued, rank by rank, and what depends on it where it changed."""
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
        """Tell the parents that the node gives something else now."""
        if node.condition_ids:
            self.previous_truths.setdefault(node, old)
        for counter in node.counting_parents:
            counter.child_changed(old, node.truth)
        for parent in node.parents:
            self.queue(parent)
