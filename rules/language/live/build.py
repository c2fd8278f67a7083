"""From checked conditions to a graph in which equal sub-conditions are one node.

Takes: checked conditions by id.  Gives: `Graph`, with what depends on each signal and call.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeAlias

from rules.language import checked
from rules.language.live.agenda import Agenda, Cell, Node
from rules.language.live.conditions import (
    AtomNode,
    DecidedNode,
    ExternalNode,
    HeldNode,
    OccurredNode,
    OppositeNode,
    OrderNode,
    RecentNode,
    SinceNode,
)
from rules.language.live.moments import CallMoments, Moments, PartMoments, SweepMoments
from rules.language.live.terms import Atom, Decider, Terms, inner_cells, signal_names, terms_of
from rules.language.live.track import SeenNode
from rules.language.live.windows import ChangeCell, CountCell, ExtremeCell, SignalCell
from rules.signals.model import Kind, Value

Maker: TypeAlias = Callable[[Any], Node]


class Graph:
    """The nodes of one set of conditions.

    `atoms` has, for each signal, the comparisons that read it, `watchers` what else looks at it; `nodes` has
    the node of every sub-condition, `cells` that of every window and count, `order` all nodes.
    """

    def __init__(self, conditions: Mapping[str, checked.Condition], values: Mapping[str, Value]) -> None:
        self.agenda = Agenda()
        self.atoms: dict[str, list[tuple[Decider, AtomNode]]] = {}
        self.watchers: dict[str, list[Node]] = {}
        self.calls: dict[str, CallMoments] = {}
        self.externals: dict[str, ExternalNode] = {}
        self.nodes: dict[checked.Condition, Node] = {}
        self.cells: dict[checked.Term, Cell] = {}
        self.order: list[Node] = []
        self._events: dict[checked.Event, Moments] = {}
        self._conditions = conditions
        self._values = values
        self._seen: dict[frozenset[str], SeenNode] = {}
        self._signals: dict[str, SignalCell] = {}
        self._terms = Terms(values.get, self.cells)
        self._timed_terms = Terms(lambda name: self._signals[name].value, self.cells)
        self._open: list[str] = []
        self._makers = self._by_type()
        self.roots = {name: self._root(name) for name in conditions}
        for name, node in self.roots.items():
            node.ids += (name,)

    def _by_type(self) -> dict[type, Maker]:
        makers: dict[type, Maker] = dict.fromkeys(
            (checked.Relation, checked.Between, checked.Close, checked.WordIs, checked.SameWord), self._atom
        )
        makers[checked.All] = lambda c: DecidedNode(self._parts(c.parts), deciding=False)
        makers[checked.Either] = lambda c: DecidedNode(self._parts(c.parts), deciding=True)
        makers[checked.Opposite] = lambda c: OppositeNode(self.node(c.part))
        makers[checked.Implies] = self._implies
        makers[checked.Held] = lambda c: HeldNode(self.agenda, self.node(c.part), c.seconds)
        makers[checked.Occurred] = lambda c: OccurredNode(self.event(c.event))
        makers[checked.Recent] = lambda c: RecentNode(self.agenda, self.event(c.event), c.seconds)
        makers[checked.Order] = lambda c: OrderNode(self.event(c.first), c.relation, self.event(c.second))
        makers[checked.Since] = lambda c: SinceNode(self.agenda, self.node(c.part), self.event(c.event))
        makers[checked.ItemMet] = self._item
        makers[checked.Broken] = lambda _: AtomNode(lambda: None)
        return makers

    def _root(self, name: str) -> Node:
        if name in self._open:
            circle = " -> ".join([*self._open[self._open.index(name) :], name])
            raise ValueError(f"conditions refer to each other in a circle: {circle}")
        self._open.append(name)
        node = self.node(self._conditions[name])
        self._open.pop()
        return node

    def node(self, condition: checked.Condition) -> Node:
        """The node of a condition, made when first asked for."""
        known = self.nodes.get(condition)
        if known is None:
            known = self.nodes[condition] = self._makers[type(condition)](condition)
            self.order.append(known)
        return known

    def _parts(self, parts: tuple[checked.Condition, ...]) -> tuple[Node, ...]:
        return tuple(self.node(part) for part in parts)

    def _implies(self, condition: checked.Implies) -> Node:
        parts = (self.node(checked.Opposite(condition.when)), self.node(condition.then))
        return DecidedNode(parts, deciding=True)

    def _item(self, condition: checked.ItemMet) -> Node:
        known = self.externals.get(condition.item)
        if known is None:
            inside = condition.item in self._conditions
            known = ExternalNode(self._root(condition.item) if inside else None)
            self.externals[condition.item] = known
        return known

    def _atom(self, atom: Atom) -> Node:
        terms = terms_of(atom)
        children = tuple(self.cell(inner) for term in terms for inner in inner_cells(term))
        names = tuple(dict.fromkeys(_words_of(atom) + tuple(n for term in terms for n in signal_names(term))))
        if children:
            return AtomNode(self._timed_terms.decider(atom), children + self._signal_cells(names))
        decide = self._terms.decider(atom)
        node = AtomNode(decide)
        node.sources = frozenset(names)
        for name in names:
            self.atoms.setdefault(name, []).append((decide, node))
        return node

    def _signal_cells(self, names: tuple[str, ...]) -> tuple[Cell, ...]:
        """The cells of these signals, each made when first asked for."""
        for name in names:
            if name not in self._signals:
                made = self._signals[name] = SignalCell(self._values.get, name)
                self.order.append(made)
                self.watchers.setdefault(name, []).append(made)
        return tuple(self._signals[name] for name in names)

    def event(self, event: checked.Event) -> Moments:
        """The node of an event, made when first asked for."""
        known = self._events.get(event)
        if known is None:
            known = self._events[event] = self._make_event(event)
            self.order.append(known)
        return known

    def _make_event(self, event: checked.Event) -> Moments:
        if isinstance(event, checked.CallMade):
            return self.calls.setdefault(event.name, CallMoments())
        if isinstance(event, checked.Sweep):
            unit = getattr(event.term, "unit", "")
            low, high = checked.Const(event.low, unit), checked.Const(event.high, unit)
            reached = (checked.Relation(event.term, "<=", low), checked.Relation(event.term, ">=", high))
            return SweepMoments(self.agenda, *(self.event(checked.Whenever(limit)) for limit in reached))
        part = self.node(event.part)
        return PartMoments(
            self.agenda, part, self._beginning(part.sources), rises=isinstance(event, checked.Rise)
        )

    def _beginning(self, sources: frozenset[str]) -> SeenNode:
        """The node that knows since when all these signals are there, made when first asked for."""
        known = self._seen.get(sources)
        if known is None:
            known = self._seen[sources] = SeenNode(self.agenda, self._values, sorted(sources))
            self.order.append(known)
            for name in sources:
                self.watchers.setdefault(name, []).append(known)
        return known

    def cell(self, term: checked.Windowed | checked.Count) -> Cell:
        """The cell of a window or count, made when first asked for."""
        known = self.cells.get(term)
        if known is None:
            known = self._count(term) if isinstance(term, checked.Count) else self._window(term)
            self.cells[term] = known
            self.order.append(known)
        return known

    def read(self, term: checked.Term) -> float | None:
        """The present value of a term that is part of these conditions."""
        return self._terms.reader(term)()

    def _count(self, term: checked.Count) -> Cell:
        return CountCell(self.agenda, self.event(term.event), term.seconds)

    def _window(self, term: checked.Windowed) -> Cell:
        cells = tuple(self.cell(inner) for inner in inner_cells(term.term))
        children = cells + self._signal_cells(tuple(dict.fromkeys(signal_names(term.term))))
        read = self._timed_terms.reader(term.term)
        if term.function in ("highest", "lowest"):
            sign = 1 if term.function == "highest" else -1
            seen = self._beginning(frozenset().union(*(child.sources for child in children)))
            return ExtremeCell(self.agenda, read, term.seconds, children, seen, sign)
        on_circle = isinstance(term.term, checked.Read) and term.term.signal.kind is Kind.ANGLE
        rate = term.function == "rate"
        return ChangeCell(self.agenda, read, term.seconds, children, rate=rate, on_circle=on_circle)


def _words_of(atom: Atom) -> tuple[str, ...]:
    """The signals whose words a comparison reads."""
    if isinstance(atom, checked.WordIs):
        return (atom.signal.name,)
    return (atom.left.name, atom.right.name) if isinstance(atom, checked.SameWord) else ()
