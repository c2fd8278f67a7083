"""A small snapshot of the judge for the live view, cheap enough to take four times a second.

Takes: the judge.  Gives: `TerminalSnapshot`, which later frames do not change.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.session.gates_ahead import SATISFIED, gates_ahead
from rules.judge.judge import Judge
from rules.judge.snapshot import GateSnapshot, gate_snapshot
from rules.packs.model import Flow


@dataclass(frozen=True, slots=True)
class SeatCount:
    """Number of satisfied items of one seat in a flow."""

    title: str
    satisfied: int
    total: int


@dataclass(frozen=True, slots=True)
class FlowCount:
    """Counts of one flow by seat."""

    title: str
    seats: tuple[SeatCount, ...]


@dataclass(frozen=True, slots=True)
class TerminalSnapshot:
    """Present state: `gates` are those of `gates_ahead`, `flows` those of the present phase and of the cued gates."""

    title: str
    sim_s: float
    phase: str
    quiet: bool
    gates: tuple[GateSnapshot, ...]
    flows: tuple[FlowCount, ...]


def build_terminal_snapshot(judge: Judge) -> TerminalSnapshot:
    """Take a snapshot."""
    context, pack = judge.context, judge.context.pack
    shown = gates_ahead(judge)
    phases = {context.phase, *(gate.phase for gate in shown if gate.id in context.cued_gates)}
    return TerminalSnapshot(
        pack.title,
        context.sim_s,
        context.phase_title(context.phase),
        judge.quiet,
        tuple(gate_snapshot(judge, gate.id) for gate in shown),
        tuple(_flow_count(judge, flow) for flow in pack.flows.values() if flow.phase in phases),
    )


def _flow_count(judge: Judge, flow: Flow) -> FlowCount:
    seats, states = judge.context.pack.seats, judge.items.states
    return FlowCount(
        flow.title,
        tuple(
            SeatCount(
                seats.get(seat, seat), sum(states[item].status in SATISFIED for item in items), len(items)
            )
            for seat, items in flow.seats.items()
        ),
    )
