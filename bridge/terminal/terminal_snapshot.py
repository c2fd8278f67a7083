"""What the screen shows of the core, and no more: taking it four times a second must not cost reception anything.

Takes: a core.  Gives: `Glance`, which does not change when the core goes on.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.session.gates_ahead import SATISFIED, gates_ahead
from rules.judge.judge import Judge
from rules.judge.snapshot import GateSnapshot, gate_snapshot
from rules.packs.model import Flow


@dataclass(frozen=True, slots=True)
class SeatCount:
    """How much of its part of a flow a seat has done."""

    title: str
    satisfied: int
    total: int


@dataclass(frozen=True, slots=True)
class FlowCount:
    """A flow, seat by seat."""

    title: str
    seats: tuple[SeatCount, ...]


@dataclass(frozen=True, slots=True)
class TerminalSnapshot:
    """The moment: `gates` are those of `gates_ahead`; `flows` those of the present phase and of the cued gates'."""

    title: str
    sim_s: float
    phase: str
    quiet: bool
    gates: tuple[GateSnapshot, ...]
    flows: tuple[FlowCount, ...]


def build_terminal_snapshot(judge: Judge) -> TerminalSnapshot:
    """How what is shown stands now."""
    session, pack = judge.context, judge.context.pack
    shown = gates_ahead(judge)
    phases = {session.phase, *(gate.phase for gate in shown if gate.id in session.cued_gates)}
    return TerminalSnapshot(
        pack.title,
        session.sim_s,
        session.phase_title(session.phase),
        judge.quiet,
        tuple(gate_snapshot(judge, gate.id) for gate in shown),
        tuple(_flow_count(judge, flow) for flow in pack.flows.values() if flow.phase in phases),
    )


def _flow_count(core: Judge, flow: Flow) -> FlowCount:
    seats, states = core.context.pack.seats, core.items.states
    return FlowCount(
        flow.title,
        tuple(
            SeatCount(
                seats.get(seat, seat), sum(states[item].status in SATISFIED for item in items), len(items)
            )
            for seat, items in flow.seats.items()
        ),
    )
