"""What the screen shows of the core, and no more: taking it four times a second must not cost reception anything.

Takes: a core.  Gives: `Glance`, which does not change when the core goes on.
"""

from __future__ import annotations

from dataclasses import dataclass

from rules.judge.events import ItemStatus
from rules.judge.judge import Judge
from rules.judge.snapshot import GateSnapshot, gate_snapshot
from rules.packs.model import Flow, Gate

SATISFIED = frozenset({ItemStatus.MET, ItemStatus.CONFIRMED, ItemStatus.WAIVED})


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
