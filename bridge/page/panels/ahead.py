"""What stands between the crew and the next phase.

Takes: a rig.  Gives: what `ahead.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.glance import gates_ahead, gates_soon
from bridge.page.panels.parts import Done, SeatItems, by_seat, done_of
from bridge.rig import Rig
from rules.judge.core import Core
from rules.judge.entries import Life
from rules.judge.picture import GatePicture, judge_gate
from rules.packs.model import Gate, Level

SHOWN = 6
"""So many items of a seat are shown at once while the gate is not cued; the others fold away."""
SHOWN_CUED = 12


@dataclass(frozen=True, slots=True)
class GateView:
    """One gate: `worst` is the gravest level of an open item where it is cued, else ''."""

    gate: GatePicture
    seats: tuple[SeatItems, ...]
    met: tuple[Done, ...]
    excused: tuple[Done, ...]
    worst: str
    shown: int


def ahead(rig: Rig) -> Mapping[str, object]:
    """The gates that are cued, or else the next, with their open items."""
    core = rig.session.core
    ahead = gates_ahead(core)
    after = [gate for gate in gates_soon(core) if gate not in ahead]
    return {
        "begun": bool(core.session.phase),
        "gates": [_gate(core, gate) for gate in ahead],
        "after": [(gate.title, len(core.needs.open_needs(gate))) for gate in after],
        "standing": str(rig.session.standing),
        "reception": rig.reception(),
    }


def _gate(core: Core, gate: Gate) -> GateView:
    picture, pack = judge_gate(core, gate.id), core.session.pack
    states = core.needs.states(gate)
    levels = [item.level for item in picture.open_items] if picture.cued else []
    return GateView(
        picture,
        by_seat(pack, picture.open_items, gravest_first=picture.cued),
        done_of(pack, [state for state in states if state.life in (Life.MET, Life.CONFIRMED)]),
        done_of(pack, [state for state in states if state.life is Life.EXCUSED]),
        next((str(level) for level in (Level.WARNING, Level.CAUTION, Level.ADVISORY) if level in levels), ""),
        SHOWN_CUED if picture.cued else SHOWN,
    )
