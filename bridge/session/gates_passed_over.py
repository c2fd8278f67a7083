"""Finds the gates that a flight passed over: their needs were never judged at an entry.

    phases   stand    pushing    taxi    line up    takeoff
    entered                        ^                   ^
             |-- the gate of the push back: passed over
                                           |-- the gate of the line-up: passed over

A phase to which nothing leads on (a go-around that was not flown) lies beside the way, and its gate is not passed over.

Takes: the phases and the gates of a session in their order.  Gives: the gates, each with its time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from rules.judge.events import GateEntered, PhaseEntered
from rules.packs.model import Gate, Pack


class PassedOver(NamedTuple):
    """A gate that was passed over, and the simulator's time in seconds of the phase that was entered instead."""

    gate: Gate
    sim_s: float


def gates_passed_over(
    pack: Pack, phases: Sequence[PhaseEntered], entered: Sequence[GateEntered]
) -> list[PassedOver]:
    """List the gates with needs that were passed over.

    Args:
        pack: has the gates.
        phases: the phases of the session.
        entered: the gates that were entered.
    """
    judged = {(event.sim_s, event.gate) for event in entered}
    return [
        PassedOver(gate, phase.sim_s)
        for phase in phases
        for gate in _gates_between(pack, phase, judged)
        if gate.needs
    ]


def _gates_between(pack: Pack, event: PhaseEntered, judged: set[tuple[float, str]]) -> Iterator[Gate]:
    """Give the gates on the way from the previous phase to the one that is entered, which were not entered."""
    index = {phase.id: number for number, phase in enumerate(pack.phases)}
    before, after = index.get(event.previous_phase), index.get(event.phase)
    if before is None or after is None:
        return
    leading = [gate for gate in pack.gates if gate.phase == event.phase]
    seen = any((event.sim_s, gate.id) in judged for gate in leading)
    on_the_way = {phase for gate in leading for phase in gate.leaves}
    for gate in pack.gates:
        if event.previous_phase not in gate.leaves:
            continue
        skipped = before < index[gate.phase] < after and gate.phase in on_the_way
        if skipped or (gate in leading and not seen):
            yield gate
