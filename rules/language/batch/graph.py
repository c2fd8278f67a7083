"""Evaluates conditions over whole columns of time: builds the online nodes, but reads comparisons from columns.

A comparison that counts events is evaluated online: an event can depend on calls.

Takes: checked conditions.  Gives: `ColumnGraph`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from rules.language import checked_tree
from rules.language.batch.terms import TermEvaluator, has_no_count
from rules.language.checked_tree import Predicate
from rules.language.online.conditions import PredicateNode
from rules.language.online.graph import MonitorGraph
from rules.language.online.scheduler import MonitorNode, NumberNode
from rules.language.online.unseen_past import WATCHED, UnseenPast
from rules.language.traversal import inner_windows, signal_names
from rules.language.truth import Truth
from rules.signals.model import Value


def _not_evaluated() -> Truth:
    raise AssertionError("the truth of a comparison comes from columns")


class ColumnGraph(MonitorGraph):
    """Graph of nodes; `column_predicates` has the node of each comparison that is set from columns."""

    def __init__(
        self,
        conditions: Mapping[str, checked_tree.Condition],
        values: Mapping[str, Value],
        unseen_past: UnseenPast = WATCHED,
        as_seen: Collection[str] = (),
    ) -> None:
        self.column_predicates: dict[Predicate, PredicateNode] = {}
        super().__init__(conditions, values, unseen_past, as_seen)
        self._own_number_nodes = set(self.number_nodes)

    @property
    def direct_signals(self) -> tuple[str, ...]:
        """Give the signals that comparisons with counts read directly."""
        return tuple(self._signal_nodes)

    def _predicate_node(self, predicate: Predicate) -> MonitorNode:
        if not has_no_count(predicate):
            return super()._predicate_node(predicate)
        node = self.column_predicates[predicate] = PredicateNode(_not_evaluated)
        node.signals = frozenset(signal_names(predicate))
        return node

    def value_at(self, term: checked_tree.Term, evaluator: TermEvaluator, step: int) -> float | None:
        """Give a term's value after a step."""
        for inner in inner_windows(term):
            if inner not in self._own_number_nodes:
                value = evaluator.series(inner).at_step(step)
                node = self.number_nodes.setdefault(inner, NumberNode())
                node.value = None if value != value else value
        return self._closures.reader(term)()
