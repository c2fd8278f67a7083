"""The graph of the live evaluator with comparisons that are told their truth, instead of looking for it.

A comparison that counts events stays as it is live: what an event is may hang on calls.

Takes: checked conditions.  Gives: `ColumnGraph`.
"""

from __future__ import annotations

from collections.abc import Mapping

from rules.language import checked
from rules.language.batch.terms import Columns, countless, words_of
from rules.language.live.agenda import Cell, Node
from rules.language.live.build import Graph
from rules.language.live.conditions import AtomNode
from rules.language.live.terms import Atom, inner_cells
from rules.language.truth import Truth
from rules.signals.model import Value


def _untold() -> Truth:
    raise AssertionError("a comparison of columns is told its truth")


class ColumnGraph(Graph):
    """`told` has the node of each comparison whose turns come from columns."""

    def __init__(self, conditions: Mapping[str, checked.Condition], values: Mapping[str, Value]) -> None:
        self.told: dict[Atom, AtomNode] = {}
        super().__init__(conditions, values)
        self._asked = set(self.cells)

    @property
    def live_names(self) -> tuple[str, ...]:
        """The signals that comparisons which count read themselves."""
        return tuple(self._signals)

    def _atom(self, atom: Atom) -> Node:
        if not countless(atom):
            return super()._atom(atom)
        node = self.told[atom] = AtomNode(_untold)
        node.sources = frozenset(words_of(atom))
        return node

    def read_at(self, term: checked.Term, columns: Columns, step: int) -> float | None:
        """A term's value as a step leaves it."""
        for inner in inner_cells(term):
            if inner not in self._asked:
                value = columns.line(inner).at_step(step)
                cell = self.cells.setdefault(inner, Cell())
                cell.value = None if value != value else value
        return self._terms.reader(term)()
