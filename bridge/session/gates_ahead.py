"""The gates that a crew will pass next, for every screen.

Takes: the judge.  Gives: the cued gates, or else the nearest one, and the one after it.
"""

from __future__ import annotations

from rules.judge.events import ItemStatus
from rules.judge.judge import Judge
from rules.packs.model import Gate

SATISFIED = frozenset({ItemStatus.MET, ItemStatus.CONFIRMED, ItemStatus.WAIVED})
"""Statuses of an item that needs no more action."""


def gates_ahead(judge: Judge) -> list[Gate]:
    """Return the cued gates, or else the next one; empty if there is none."""
    context = judge.context
    ahead = [gate for gate in context.pack.gates if gate.id in context.active_gates]
    cued = [gate for gate in ahead if gate.id in context.cued_gates]
    return cued or _nearest_first(judge, context.phase, ahead)[:1]


def gates_soon(judge: Judge) -> list[Gate]:
    """Return the gates ahead, and the one that follows the last of them."""
    ahead = gates_ahead(judge)
    phase = ahead[-1].phase if ahead else ""
    after = [gate for gate in judge.context.pack.gates if phase in gate.leaves and gate not in ahead]
    return [*ahead, *_nearest_first(judge, phase, after)[:1]]


def _nearest_first(judge: Judge, phase: str, gates: list[Gate]) -> list[Gate]:
    """Sort gates by how likely a crew passes them next, from a phase on.

    Gates with needs come first; then gates that only this phase leads to; then gates into later phases before gates
    into earlier ones, the nearest phase first.
    """
    order = {one.id: at for at, one in enumerate(judge.context.pack.phases)}
    here = order.get(phase, 0)

    def lateness(gate: Gate) -> tuple[bool, bool, bool, int]:
        steps = order[gate.phase] - here
        return not gate.needs, gate.leaves != (phase,), steps < 0, abs(steps)

    return sorted(gates, key=lateness)
