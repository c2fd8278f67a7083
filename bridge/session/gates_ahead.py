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
    """The gates that are cued, or else the one that comes next, if any does."""
    session = judge.context
    ahead = [gate for gate in session.pack.gates if gate.id in session.active_gates]
    cued = [gate for gate in ahead if gate.id in session.cued_gates]
    return cued or _nearest_first(judge, session.phase, ahead)[:1]


def gates_soon(judge: Judge) -> list[Gate]:
    """The gates ahead, and the one that comes after the last of them."""
    ahead = gates_ahead(judge)
    phase = ahead[-1].phase if ahead else ""
    after = [gate for gate in judge.context.pack.gates if phase in gate.leaves and gate not in ahead]
    return [*ahead, *_nearest_first(judge, phase, after)[:1]]


def _nearest_first(core: Judge, phase: str, gates: list[Gate]) -> list[Gate]:
    """Gates in the order in which a crew would name them, from a phase on.

    One that needs something comes before one that needs nothing; then one that only this phase leads to; then one that
    leads on before one that leads back, the nearest phase first.
    """
    order = {one.id: at for at, one in enumerate(core.context.pack.phases)}
    here = order.get(phase, 0)

    def lateness(gate: Gate) -> tuple[bool, bool, bool, int]:
        steps = order[gate.phase] - here
        return not gate.needs, gate.leaves != (phase,), steps < 0, abs(steps)

    return sorted(gates, key=lateness)
