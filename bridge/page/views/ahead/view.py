"""What stands between the crew and the next phase.

Takes: a rig.  Gives: what `ahead.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.page.widgets.item_list.item_list import ResolvedItem, SeatItems, items_by_seat, resolved_items
from bridge.page.widgets.notices.notices import watch_violations
from bridge.runtime.device import Device
from bridge.terminal.terminal_snapshot import gates_ahead, gates_soon
from rules.judge.events import ItemStatus, Verdict
from rules.judge.judge import Judge
from rules.judge.snapshot import GateSnapshot, ItemSnapshot, gate_snapshot
from rules.packs.model import Gate, Level

MAX_SHOWN = 6
"""So many items of a seat are shown at once while the gate is not cued; the others fold away."""
MAX_SHOWN_CUED = 12


@dataclass(frozen=True, slots=True)
class GateView:
    """One gate: `worst` is the gravest level of an open item where it is cued, else ''.

    `blind` is what cannot be told because the link is lost; it is not in `seats` then.
    """

    gate: GateSnapshot
    seats: tuple[SeatItems, ...]
    met: tuple[ResolvedItem, ...]
    waived: tuple[ResolvedItem, ...]
    unknown_items: tuple[ItemSnapshot, ...]
    worst_level: str
    max_shown: int


def ahead(device: Device) -> Mapping[str, object]:
    """The gates that are cued, or else the next, with their open items."""
    core = device.session.judge
    ahead, reception = gates_ahead(core), device.link_report()
    lost = not reception.healthy
    after = [gate for gate in gates_soon(core) if gate not in ahead]
    return {
        "begun": bool(core.context.phase),
        "gates": [_gate_view(core, gate, lost=lost) for gate in ahead],
        "wrong": watch_violations(device),
        "lost": lost,
        "after": [(gate.title, len(core.gate_requirements.open_needs(gate))) for gate in after],
        "standing": str(device.session.state),
        "reception": reception,
    }


def _gate_view(core: Judge, gate: Gate, *, lost: bool) -> GateView:
    picture, pack = gate_snapshot(core, gate.id), core.context.pack
    states = core.gate_requirements.states(gate)
    blind = tuple(item for item in picture.open_items if lost and item.verdict is Verdict.UNKNOWN)
    shown = [item for item in picture.open_items if item not in blind]
    levels = [item.level for item in shown] if picture.cued else []
    return GateView(
        picture,
        items_by_seat(pack, shown, gravest_first=picture.cued),
        resolved_items(
            pack, [state for state in states if state.status in (ItemStatus.MET, ItemStatus.CONFIRMED)]
        ),
        resolved_items(pack, [state for state in states if state.status is ItemStatus.WAIVED]),
        blind,
        next((str(level) for level in (Level.WARNING, Level.CAUTION, Level.ADVISORY) if level in levels), ""),
        MAX_SHOWN_CUED if picture.cued else MAX_SHOWN,
    )
