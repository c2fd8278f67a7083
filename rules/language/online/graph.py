"""Graph of nodes for checked conditions, in which equal sub-conditions share one node.

Takes: checked conditions by id.  Gives: `MonitorGraph`, with the nodes that depend on each signal and call.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Any, TypeAlias, TypeVar

from rules.language import checked_tree
from rules.language.checked_tree import Predicate
from rules.language.deadline import overdue
from rules.language.online.call_events import CallEventNode
from rules.language.online.closures import ClosureBuilder
from rules.language.online.conditions import (
    AndOrNode,
    BeforeAfterNode,
    EstimateNode,
    ExternalNode,
    KnownTrueNode,
    NotNode,
    NumberOfNode,
    OnceNode,
    PredicateNode,
    SinceNode,
    TimedHistoricallyNode,
    TimedOnceNode,
)
from rules.language.online.distances import NumberComparison, distance_reader, slopes_of
from rules.language.online.events import (
    ChangedEventNode,
    ConditionEventNode,
    EventNode,
    SweepEventNode,
)
from rules.language.online.runs import DataStartNode, SignalNode
from rules.language.online.scheduler import MonitorNode, NumberNode, Scheduler
from rules.language.online.signal_readers import SignalReaders, add_comparison
from rules.language.online.unseen_past import WATCHED, UnseenPast
from rules.language.online.windows import AverageNode, ChangeNode, EventCountNode, ExtremeNode
from rules.language.traversal import (
    direct_signal_names,
    inner_windows,
    looks_back_without_limit,
    terms_of,
)
from rules.language.truth import Truth
from rules.signals.model import SignalKind, Value

NodeFactory: TypeAlias = Callable[[Any], MonitorNode]
K = TypeVar("K")
N = TypeVar("N", bound=MonitorNode)


class MonitorGraph:
    """Nodes of one set of conditions.

    `readers` has, for each signal, all that reads it; `nodes` has the node of every sub-condition, `number_nodes` that of
    every window and count, `all_nodes` all nodes.

    Conditions count what may have happened in `unseen_past`; those of the ids `as_seen` count only what was seen, and so
    have nodes of their own where they look back (`as_seen_nodes`).
    """

    def __init__(
        self,
        conditions: Mapping[str, checked_tree.Condition],
        values: Mapping[str, Value],
        unseen_past: UnseenPast = WATCHED,
        as_seen: Collection[str] = (),
    ) -> None:
        self.scheduler = Scheduler()
        self._unseen_past = unseen_past
        self._as_seen_ids = frozenset(as_seen)
        self._as_seen = False
        self.as_seen_nodes: dict[checked_tree.Condition, MonitorNode] = {}
        self._built: dict[int, tuple[checked_tree.Condition, MonitorNode]] = {}
        self._as_seen_events: dict[checked_tree.Event, EventNode] = {}
        self._past_nodes: list[MonitorNode] = []
        self.readers: defaultdict[str, SignalReaders] = defaultdict(SignalReaders)
        self.call_nodes: dict[str, list[CallEventNode]] = {}
        self.external_nodes: dict[str, ExternalNode] = {}
        self.nodes: dict[checked_tree.Condition, MonitorNode] = {}
        self.number_nodes: dict[checked_tree.Term, NumberNode] = {}
        self.all_nodes: list[MonitorNode] = []
        self._event_nodes: dict[checked_tree.Event, EventNode] = {}
        self._conditions = conditions
        self._values = values
        self._data_starts: dict[frozenset[str], DataStartNode] = {}
        self._signal_nodes: dict[str, SignalNode] = {}
        self._closures = ClosureBuilder(values.get, self.number_nodes)
        self._node_closures = ClosureBuilder(lambda name: self._signal_nodes[name].value, self.number_nodes)
        self._in_progress: list[str] = []
        self._factories = self._factories_by_type()
        self.roots = {name: self._root(name) for name in conditions}
        for name, node in self.roots.items():
            node.condition_ids += (name,)

    def _factories_by_type(self) -> dict[type, NodeFactory]:
        makers: dict[type, NodeFactory] = dict.fromkeys(
            (
                checked_tree.Relation,
                checked_tree.Between,
                checked_tree.WithinTolerance,
                checked_tree.WordIs,
                checked_tree.SameWord,
            ),
            self._predicate_node,
        )
        makers[checked_tree.And] = lambda c: AndOrNode(self._part_nodes(c.parts), deciding=False)
        makers[checked_tree.Or] = lambda c: AndOrNode(self._part_nodes(c.parts), deciding=True)
        makers[checked_tree.NumberOf] = lambda c: NumberOfNode(self._part_nodes(c.parts), c.least, c.most)
        makers[checked_tree.Not] = lambda c: NotNode(self.node(c.part))
        makers[checked_tree.Implies] = self._implies_node
        makers[checked_tree.Unless] = self._unless_node
        makers[checked_tree.TimedHistorically] = lambda c: TimedHistoricallyNode(
            self.scheduler, self.node(c.part), c.seconds
        )
        makers[checked_tree.Once] = lambda c: self._past_node(
            OnceNode(self.event_node(c.event), c.assumes, self._past)
        )
        makers[checked_tree.TimedOnce] = lambda c: TimedOnceNode(
            self.scheduler, self.event_node(c.event), c.seconds
        )
        makers[checked_tree.BeforeAfter] = lambda c: self._past_node(
            BeforeAfterNode(
                self.event_node(c.first), c.relation, self.event_node(c.second), c.assumes, self._past
            )
        )
        makers[checked_tree.Since] = lambda c: self._past_node(
            SinceNode(self.scheduler, self.node(c.part), self.event_node(c.event), c.assumes, self._past)
        )
        makers[checked_tree.Deadline] = lambda c: NotNode(self.node(overdue(c)))
        makers[checked_tree.ItemMet] = self._item_node
        makers[checked_tree.Estimate] = self._estimate_node
        makers[checked_tree.FaultyCondition] = lambda _: PredicateNode(lambda: None)
        return makers

    def _root(self, name: str) -> MonitorNode:
        if name in self._in_progress:
            circle = " -> ".join([*self._in_progress[self._in_progress.index(name) :], name])
            raise ValueError(f"conditions refer to each other in a circle: {circle}")
        self._in_progress.append(name)
        node = self._in_mode(self.node, self._conditions[name], as_seen=name in self._as_seen_ids)
        self._in_progress.pop()
        return node

    def _in_mode(self, build: Callable[[K], N], key: K, *, as_seen: bool) -> N:
        """Build nodes that count only what was seen, or all that may have been."""
        outer, self._as_seen = self._as_seen, as_seen
        node = build(key)
        self._as_seen = outer
        return node

    @property
    def _past(self) -> UnseenPast:
        """Rule by which the nodes that are being built count the time before the monitors began."""
        return WATCHED if self._as_seen else self._unseen_past

    def _past_node(self, node: MonitorNode) -> MonitorNode:
        """Note a node that looks back without a limit."""
        self._past_nodes.append(node)
        return node

    def queue_past_nodes(self) -> None:
        """Evaluate everything that looks back without a limit again: the unseen past is another one."""
        for node in self._past_nodes:
            self.scheduler.queue(node)

    def node(self, condition: checked_tree.Condition) -> MonitorNode:
        """Give the node of a condition, built at first use."""
        apart = self._as_seen and looks_back_without_limit(condition)
        table = self.as_seen_nodes if apart else self.nodes
        known = table.get(condition)
        if known is None:
            known = table[condition] = self._factories[type(condition)](condition)
            self.all_nodes.append(known)
        if not apart:
            # By identity, for sentences: to hash a condition is to hash all its parts.  Kept, so that no other gets its id.
            self._built[id(condition)] = condition, known
        return known

    def _part_nodes(self, parts: tuple[checked_tree.Condition, ...]) -> tuple[MonitorNode, ...]:
        return tuple(self.node(part) for part in parts)

    def _implies_node(self, condition: checked_tree.Implies) -> MonitorNode:
        parts = (self.node(checked_tree.Not(condition.when)), self.node(condition.then))
        return AndOrNode(parts, deciding=True)

    def _unless_node(self, condition: checked_tree.Unless) -> MonitorNode:
        parts = (self.node(condition.part), KnownTrueNode(self.node(condition.excuse)))
        self.all_nodes.append(parts[1])
        return AndOrNode(parts, deciding=True)

    def _estimate_node(self, condition: checked_tree.Estimate) -> MonitorNode:
        nodes = [
            tuple(None if part is None else self.node(part) for part in source)
            for source in zip(condition.yes, condition.no, strict=True)
        ]
        return EstimateNode(tuple((yes, no) for yes, no in nodes))

    def _item_node(self, condition: checked_tree.ItemMet) -> MonitorNode:
        known = self.external_nodes.get(condition.item)
        if known is None:
            inside = condition.item in self._conditions
            known = ExternalNode(self._root(condition.item) if inside else None)
            self.external_nodes[condition.item] = known
        return known

    def _predicate_node(self, predicate: Predicate) -> MonitorNode:
        terms = terms_of(predicate)
        children = tuple(self.number_node(inner) for term in terms for inner in inner_windows(term))
        names = tuple(
            dict.fromkeys(
                _word_signals(predicate) + tuple(n for term in terms for n in direct_signal_names(term))
            )
        )
        if children:
            return PredicateNode(
                self._node_closures.decider(predicate), children + self._signal_nodes_of(names)
            )
        node = PredicateNode(self._closures.decider(predicate))
        node.signals = frozenset(names)
        if isinstance(predicate, NumberComparison):
            distance = distance_reader(predicate, self._closures.reader)
            add_comparison(self.readers, node, distance, slopes_of(predicate))
        else:
            for name in names:
                self.readers[name].words.append(node)
        return node

    def _signal_nodes_of(self, names: tuple[str, ...]) -> tuple[SignalNode, ...]:
        """Give the nodes of these signals, each built at first use."""
        for name in names:
            if name not in self._signal_nodes:
                node = self._signal_nodes[name] = SignalNode(self._values.get, name)
                self.all_nodes.append(node)
                self.readers[name].observers.append(node)
        return tuple(self._signal_nodes[name] for name in names)

    def event_node(self, event: checked_tree.Event) -> EventNode:
        """Give the node of an event, built at first use."""
        apart = self._as_seen and looks_back_without_limit(event)
        table = self._as_seen_events if apart else self._event_nodes
        known = table.get(event)
        if known is None:
            known = table[event] = self._build_event(event)
            self.all_nodes.append(known)
        return known

    def _build_event(self, event: checked_tree.Event) -> EventNode:
        if isinstance(event, checked_tree.CallEvent):
            node = CallEventNode(event.is_made_by)
            self.call_nodes.setdefault(event.name, []).append(node)
            return node
        if isinstance(event, checked_tree.Changed):
            name = event.signal.name
            (signal,) = self._signal_nodes_of((name,))
            return ChangedEventNode(self.scheduler, signal, self._data_start(frozenset((name,))))
        if isinstance(event, checked_tree.Sweep):
            reached = (
                checked_tree.Relation(event.term, "<=", event.low),
                checked_tree.Relation(event.term, ">=", event.high),
            )
            return SweepEventNode(
                self.scheduler, *(self.event_node(checked_tree.Whenever(limit)) for limit in reached)
            )
        part = self.node(event.part)
        return ConditionEventNode(
            self.scheduler, part, self._data_start(part.signals), rises=isinstance(event, checked_tree.Rise)
        )

    def _data_start(self, sources: frozenset[str]) -> DataStartNode:
        """Give the node for the start of the data of these signals, built at first use."""
        known = self._data_starts.get(sources)
        if known is None:
            known = self._data_starts[sources] = DataStartNode(self.scheduler, self._values, sorted(sources))
            self.all_nodes.append(known)
            for name in sources:
                self.readers[name].observers.append(known)
        return known

    def number_node(self, term: checked_tree.Window | checked_tree.EventCount) -> NumberNode:
        """Give the node of a window or count, built at first use."""
        known = self.number_nodes.get(term)
        if known is None:
            # One node for all conditions, since its readers find it by the term.
            known = self._in_mode(self._build_number, term, as_seen=False)
            self.number_nodes[term] = known
            self.all_nodes.append(known)
        return known

    def _build_number(self, term: checked_tree.Window | checked_tree.EventCount) -> NumberNode:
        return (
            self._count_node(term) if isinstance(term, checked_tree.EventCount) else self._window_node(term)
        )

    def value_of(self, term: checked_tree.Term) -> float | None:
        """Give the present value of a term of these conditions."""
        return self._closures.reader(term)()

    def truth_of(self, condition: checked_tree.Condition) -> Truth:
        """Give the present truth of any sub-condition."""
        known = self._built.get(id(condition))
        return self.nodes[condition].truth if known is None else known[1].truth

    def lose_signals(self, names: Iterable[str]) -> None:
        """Make every comparison of these signals unknown, without a change of the state."""
        for name in names:
            for predicate in self._predicates_of(name):
                self._set_truth(predicate, None)
            self._set_signal(name, None)

    def restore_signals(self, names: Iterable[str]) -> None:
        """Evaluate every comparison of these signals again, from the state."""
        for name in names:
            for predicate in self._predicates_of(name):
                self._set_truth(predicate, predicate.decide())
            self._set_signal(name, self._values.get(name))

    def _predicates_of(self, name: str) -> Iterable[PredicateNode]:
        """Give the comparisons that read a signal."""
        return self.readers[name].predicates if name in self.readers else ()

    def _set_truth(self, predicate: PredicateNode, truth: Truth) -> None:
        old = predicate.truth
        if predicate.set_truth(truth):
            self.scheduler.notify_parents(predicate, old)

    def _set_signal(self, name: str, value: Any) -> None:  # noqa: ANN401 - a number; only comparisons of numbers have such a node
        node = self._signal_nodes.get(name)
        if node is not None and node.value != value:
            node.value = value
            self.scheduler.notify_parents(node, None)

    def _count_node(self, term: checked_tree.EventCount) -> NumberNode:
        return EventCountNode(self.scheduler, self.event_node(term.event), term.seconds)

    def _window_node(self, term: checked_tree.Window) -> NumberNode:
        windows = tuple(self.number_node(inner) for inner in inner_windows(term.term))
        children = windows + self._signal_nodes_of(tuple(dict.fromkeys(direct_signal_names(term.term))))
        read = self._node_closures.reader(term.term)
        if term.function in ("highest", "lowest"):
            sign = 1 if term.function == "highest" else -1
            data_start = self._data_start(frozenset().union(*(child.signals for child in children)))
            return ExtremeNode(self.scheduler, read, term.seconds, children, data_start, sign)
        if term.function == "average":
            return AverageNode(self.scheduler, read, term.seconds, children)
        on_circle = (
            isinstance(term.term, checked_tree.SignalValue) and term.term.signal.kind is SignalKind.ANGLE
        )
        rate = term.function == "rate"
        return ChangeNode(self.scheduler, read, term.seconds, children, rate=rate, on_circle=on_circle)


def _word_signals(predicate: Predicate) -> tuple[str, ...]:
    """Give the signals whose words a comparison reads."""
    if isinstance(predicate, checked_tree.WordIs):
        return (predicate.signal.name,)
    return (predicate.left.name, predicate.right.name) if isinstance(predicate, checked_tree.SameWord) else ()
