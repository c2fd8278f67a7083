"""What the screen shows of the core, and no more: taking it four times a second must not cost reception anything.

Takes: a core.  Gives: `Glance`, which does not change when the core goes on.
"""

from __future__ import annotations

from dataclasses import dataclass

from rules.judge.core import Core
from rules.judge.entries import Life
from rules.judge.picture import GatePicture, judge_gate
from rules.packs.model import Flow, Gate

DONE = frozenset({Life.MET, Life.CONFIRMED, Life.EXCUSED})


@dataclass(frozen=True, slots=True)
class SeatCount:
    """How much of its part of a flow a seat has done."""

    title: str
    done: int
    of: int


@dataclass(frozen=True, slots=True)
class FlowCount:
    """A flow, seat by seat."""

    title: str
    seats: tuple[SeatCount, ...]


@dataclass(frozen=True, slots=True)
class Glance:
    """The moment: `gates` are those of `gates_ahead`; `flows` those of the present phase and of the cued gates'."""

    title: str
    sim_s: float
    phase: str
    quiet: bool
    gates: tuple[GatePicture, ...]
    flows: tuple[FlowCount, ...]


def take_glance(core: Core) -> Glance:
    """How what is shown stands now."""
    session, pack = core.session, core.session.pack
    shown = gates_ahead(core)
    phases = {session.phase, *(gate.phase for gate in shown if gate.id in session.cued)}
    return Glance(
        pack.title,
        session.sim_s,
        session.phase_title(session.phase),
        core.quiet,
        tuple(judge_gate(core, gate.id) for gate in shown),
        tuple(_count(core, flow) for flow in pack.flows.values() if flow.phase in phases),
    )


def gates_ahead(core: Core) -> list[Gate]:
    """The gates that are cued, or else the one that comes next, if any does."""
    session = core.session
    ahead = [gate for gate in session.pack.gates if gate.id in session.in_play]
    cued = [gate for gate in ahead if gate.id in session.cued]
    return cued or _nearest(core, session.phase, ahead)[:1]


def gates_soon(core: Core) -> list[Gate]:
    """The gates ahead, and the one that comes after the last of them."""
    ahead = gates_ahead(core)
    phase = ahead[-1].phase if ahead else ""
    after = [gate for gate in core.session.pack.gates if phase in gate.leaves and gate not in ahead]
    return [*ahead, *_nearest(core, phase, after)[:1]]


def _nearest(core: Core, phase: str, gates: list[Gate]) -> list[Gate]:
    """Gates in the order in which a crew would name them, from a phase on.

    One that needs something comes before one that needs nothing; then one that only this phase leads to; then one that
    leads on before one that leads back, the nearest phase first.
    """
    order = {one.id: at for at, one in enumerate(core.session.pack.phases)}
    here = order.get(phase, 0)

    def lateness(gate: Gate) -> tuple[bool, bool, bool, int]:
        steps = order[gate.phase] - here
        return not gate.needs, gate.leaves != (phase,), steps < 0, abs(steps)

    return sorted(gates, key=lateness)


def _count(core: Core, flow: Flow) -> FlowCount:
    seats, states = core.session.pack.seats, core.items.states
    return FlowCount(
        flow.title,
        tuple(
            SeatCount(seats.get(seat, seat), sum(states[item].life in DONE for item in items), len(items))
            for seat, items in flow.seats.items()
        ),
    )
