"""Shows the open items before the next phases, and the limits that are exceeded now.

Takes: a device.  Gives: the values of the template.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.page.widgets.item_list.item_list import (
    LEVEL_ORDER,
    ResolvedItem,
    SeatItems,
    items_by_seat,
    resolved_items,
    seat_title,
)
from bridge.runtime.device import Device
from bridge.session.gates_ahead import gates_ahead, gates_soon
from rules.judge.condition_ids import expect_id
from rules.judge.events import ItemStatus, Verdict
from rules.judge.judge import Judge
from rules.judge.snapshot import GateSnapshot, ItemSnapshot, gate_snapshot
from rules.judge.watches import WatchState, WatchStatus
from rules.packs.model import Gate, Level

MAX_SHOWN = 6
"""Number of a seat's items that are shown before the cue; the others are folded."""
MAX_SHOWN_CUED = 12
"""The same number after the cue."""


@dataclass(frozen=True, slots=True)
class GateView:
    """One gate with its items.

    `worst_level` is the most severe level of the open items of a cued gate, else ''.  `unknown_items` are unknown because the
    link is lost; they are not in `seats`.
    """

    gate: GateSnapshot
    seats: tuple[SeatItems, ...]
    met: tuple[ResolvedItem, ...]
    waived: tuple[ResolvedItem, ...]
    unknown_items: tuple[ItemSnapshot, ...]
    worst_level: str
    max_shown: int


@dataclass(frozen=True, slots=True)
class WatchViolation:
    """A limit that is exceeded now, and for how long."""

    id: str
    level: Level
    label: str
    seat: str
    sentence: str
    duration_s: float
    why: str


def ahead(device: Device) -> Mapping[str, object]:
    """Return the cued gates, or the next one if none is cued, with their items."""
    judge = device.session.judge
    ahead, link_report = gates_ahead(judge), device.link_report()
    link_lost = not link_report.healthy
    next_gates = [gate for gate in gates_soon(judge) if gate not in ahead]
    return {
        "has_phase": bool(judge.context.phase),
        "gates": [_gate_view(judge, gate, link_lost=link_lost) for gate in ahead],
        "violations": watch_violations(device),
        "link_lost": link_lost,
        "next_gates": [(gate.title, len(judge.gate_requirements.open_needs(gate))) for gate in next_gates],
        "session_state": str(device.session.state),
        "link_report": link_report,
    }


def watch_violations(device: Device) -> list[WatchViolation]:
    """Return the limits that are exceeded now, the most severe first."""
    states = device.session.judge.watches.states.values()
    violated = (_watch_violation(device, state) for state in states if state.status is WatchStatus.VIOLATED)
    return sorted(violated, key=lambda violation: LEVEL_ORDER[violation.level])


def _watch_violation(device: Device, state: WatchState) -> WatchViolation:
    context, watch = device.session.judge.context, state.watch
    return WatchViolation(
        watch.id,
        watch.level,
        watch.label,
        seat_title(device.pack.seats, watch.seat),
        context.monitors.explain(expect_id(watch.id)).sentence,
        context.sim_s - state.since_s,
        watch.why,
    )


def _gate_view(judge: Judge, gate: Gate, *, link_lost: bool) -> GateView:
    snapshot, pack = gate_snapshot(judge, gate.id), judge.context.pack
    states = judge.gate_requirements.states(gate)
    unknown = tuple(item for item in snapshot.open_items if link_lost and item.verdict is Verdict.UNKNOWN)
    shown = [item for item in snapshot.open_items if item not in unknown]
    levels = [item.level for item in shown] if snapshot.cued else []
    return GateView(
        snapshot,
        items_by_seat(pack, shown, severe_first=snapshot.cued),
        resolved_items(
            pack, [state for state in states if state.status in (ItemStatus.MET, ItemStatus.CONFIRMED)]
        ),
        resolved_items(pack, [state for state in states if state.status is ItemStatus.WAIVED]),
        unknown,
        next((str(level) for level in (Level.WARNING, Level.CAUTION, Level.ADVISORY) if level in levels), ""),
        MAX_SHOWN_CUED if snapshot.cued else MAX_SHOWN,
    )
