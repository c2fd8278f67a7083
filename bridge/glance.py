"""What the screen shows of the core, and no more: taking it four times a second must not cost reception anything.

Takes: a core.  Gives: `Glance`, which does not change when the core goes on.
"""

from __future__ import annotations

from dataclasses import dataclass

from rules.judge.core import Core
from rules.judge.entries import Life
from rules.judge.picture import GatePicture, judge_gate
from rules.packs.model import Flow

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
    """The moment: `gates` are those that are cued, or else the next; `flows` those of these phases."""

    title: str
    sim_s: float
    phase: str
    quiet: bool
    gates: tuple[GatePicture, ...]
    flows: tuple[FlowCount, ...]


def take_glance(core: Core) -> Glance:
    """How what is shown stands now."""
    session, pack = core.session, core.session.pack
    ahead = [gate for gate in pack.gates if gate.id in session.in_play]
    shown = [gate for gate in ahead if gate.id in session.cued] or ahead[:1]
    phases = {session.phase, *(gate.phase for gate in shown if gate.id in session.cued)}
    return Glance(
        pack.title,
        session.sim_s,
        session.phase_title(session.phase),
        core.quiet,
        tuple(judge_gate(core, gate.id) for gate in shown),
        tuple(_count(core, flow) for flow in pack.flows.values() if flow.phase in phases),
    )


def _count(core: Core, flow: Flow) -> FlowCount:
    seats, states = core.session.pack.seats, core.items.states
    return FlowCount(
        flow.title,
        tuple(
            SeatCount(seats.get(seat, seat), sum(states[item].life in DONE for item in items), len(items))
            for seat, items in flow.seats.items()
        ),
    )
