"""What stands between the crew and the next phase.

Takes: a rig.  Gives: what `ahead.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.glance import gates_ahead, gates_soon
from bridge.page.panels.parts import Done, SeatItems, by_seat, done_of
from bridge.page.panels.told import wrong_now
from bridge.rig import Rig
from rules.judge.core import Core
from rules.judge.entries import Life, Verdict
from rules.judge.picture import GatePicture, ItemPicture, judge_gate
from rules.packs.model import Gate, Level

SHOWN = 6
"""So many items of a seat are shown at once while the gate is not cued; the others fold away."""
SHOWN_CUED = 12


@dataclass(frozen=True, slots=True)
class GateView:
    """One gate: `worst` is the gravest level of an open item where it is cued, else ''.

    `blind` is what cannot be told because the link is lost; it is not in `seats` then.
    """

    gate: GatePicture
    seats: tuple[SeatItems, ...]
    met: tuple[Done, ...]
    excused: tuple[Done, ...]
    blind: tuple[ItemPicture, ...]
    worst: str
    shown: int


def ahead(rig: Rig) -> Mapping[str, object]:
    """The gates that are cued, or else the next, with their open items."""
    core = rig.session.core
    ahead, reception = gates_ahead(core), rig.reception()
    lost = not reception.healthy
    after = [gate for gate in gates_soon(core) if gate not in ahead]
    return {
        "begun": bool(core.session.phase),
        "gates": [_gate(core, gate, lost=lost) for gate in ahead],
        "wrong": wrong_now(rig),
        "lost": lost,
        "after": [(gate.title, len(core.needs.open_needs(gate))) for gate in after],
        "standing": str(rig.session.standing),
        "reception": reception,
    }


def _gate(core: Core, gate: Gate, *, lost: bool) -> GateView:
    picture, pack = judge_gate(core, gate.id), core.session.pack
    states = core.needs.states(gate)
    blind = tuple(item for item in picture.open_items if lost and item.verdict is Verdict.UNKNOWN)
    shown = [item for item in picture.open_items if item not in blind]
    levels = [item.level for item in shown] if picture.cued else []
    return GateView(
        picture,
        by_seat(pack, shown, gravest_first=picture.cued),
        done_of(pack, [state for state in states if state.life in (Life.MET, Life.CONFIRMED)]),
        done_of(pack, [state for state in states if state.life is Life.EXCUSED]),
        blind,
        next((str(level) for level in (Level.WARNING, Level.CAUTION, Level.ADVISORY) if level in levels), ""),
        SHOWN_CUED if picture.cued else SHOWN,
    )
