"""Finds the needs that cannot be met yet at this point of the flight.

    need                                                     later while
    -----------------------------------------------------    ----------------------------------------------
    its flow belongs to a phase that lies ahead              that phase has not come
    it has `after`                                           the condition is known to be false
    it has `follows`                                         an item that it follows is known to be unmet

A prerequisite that is unknown hides nothing: without calls a simulator would otherwise show no need that waits for one.
Only screens leave such needs aside, and only before the cue; a gate that is cued finds every unmet need open.

Takes: the parts of a judge.  Gives: ids of items.
"""

from __future__ import annotations

from collections.abc import Mapping

from rules.judge.context import JudgeContext
from rules.judge.items import Items
from rules.judge.order_rules import OrderRules
from rules.packs.model import Pack


class LaterNeeds:
    """The items of a pack that cannot be met yet."""

    def __init__(self, context: JudgeContext, items: Items, order_rules: OrderRules) -> None:
        """Index the flows by the phases that they belong to."""
        self._context = context
        self._order_rules = order_rules
        self._of_phase = _items_of_later_phases(context.pack)
        self._ordered = tuple(s for s in items.states.values() if s.item.after is not None or s.item.follows)

    def ids(self) -> frozenset[str]:
        """Items that cannot be met yet, met or not."""
        waiting = {state.id for state in self._ordered if self._order_rules.must_wait(state)}
        return self._of_phase.get(self._context.phase, frozenset()) | waiting


def _items_of_later_phases(pack: Pack) -> Mapping[str, frozenset[str]]:
    """Items of the flows whose phase comes after each phase."""
    order = {phase.id: position for position, phase in enumerate(pack.phases)}
    return {
        phase: frozenset(
            item
            for flow in pack.flows.values()
            if order.get(flow.phase, 0) > position
            for items in flow.seats.values()
            for item in items
        )
        for phase, position in order.items()
    }
