"""Shows the open items before the next phases, and what else is wrong now.

Takes: a device.  Gives: the values of the template.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from bridge.common.time_text import short_duration
from bridge.page.panel import link_view
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
from rules.judge.events import ItemStatus
from rules.judge.gate_counts import GateReadiness, gate_text
from rules.judge.snapshot import GateSnapshot, ItemSnapshot, Snapshot, WatchSnapshot, WatchStatus
from rules.packs.model import Level, Pack

MAX_SHOWN = 6
"""Number of a seat's items that are shown before the cue; the others are folded."""
MAX_SHOWN_CUED = 12
"""The same number after the cue."""


class ListedItem(NamedTuple):
    """An item of which no more than a line is shown; without a sentence where that is not shown."""

    id: str
    label: str
    sentence: str = ""


@dataclass(frozen=True, slots=True)
class GateView:
    """One gate with its items; `counts` are all of it as words, without the open ones.

    `worst_level` is the most severe level of the open items of a cued gate, else ''.  `unknown_items` are unknown because the
    link is lost; `not_judged` are the others that are not known.  `verdict` names the look of the headline: `clear` only where everything was
    judged and nothing else is open.
    """

    id: str
    title: str
    cued: bool
    open_count: int
    need_count: int
    counts: str
    verdict: str
    seats: tuple[SeatItems, ...]
    met: tuple[ResolvedItem, ...]
    waived: tuple[ResolvedItem, ...]
    later: tuple[ListedItem, ...]
    unknown_items: tuple[ListedItem, ...]
    not_judged: tuple[ListedItem, ...]
    worst_level: str
    max_shown: int


@dataclass(frozen=True, slots=True)
class OpenFinding:
    """An open finding that is not about an item of the gates shown, nor about a watch that does not hold now."""

    number: int
    level: Level
    label: str
    seat: str
    sentence: str
    open_for: str


@dataclass(frozen=True, slots=True)
class WatchViolation:
    """A watch that does not hold now, and for how long."""

    id: str
    level: Level
    label: str
    seat: str
    sentence: str
    open_for: str
    why: str


def ahead(device: Device) -> Mapping[str, object]:
    """Return the cued gates, or the next one if none is cued, with their items."""
    snapshot, pack, link_report = device.session.current_snapshot(), device.pack, link_view(device)
    shown, link_lost = gates_ahead(pack, snapshot), not device.link_report().healthy
    next_gates = [snapshot.gates[gate.id] for gate in gates_soon(pack, snapshot) if gate not in shown]
    violations = watch_violations(device)
    return {
        "has_phase": bool(snapshot.phase),
        "gates": [
            _gate_view(pack, snapshot, gate.id, link_lost=link_lost, violations=bool(violations))
            for gate in shown
        ],
        "violations": violations,
        "still_open": still_open(pack, snapshot, [gate.id for gate in shown]),
        "doubts": snapshot.doubts_besides(gate.id for gate in shown),
        "link_lost": link_lost,
        "next_gates": [
            (gate.title, gate_text(gate.counts._replace(other_findings=0), cued=gate.cued))
            for gate in next_gates
        ],
        "session_state": str(device.session.state),
        "link_report": link_report,
    }


def watch_violations(device: Device) -> list[WatchViolation]:
    """Return the watches that do not hold now, the most severe first."""
    snapshot = device.session.current_snapshot()
    violated = (watch for watch in snapshot.watches.values() if watch.status is WatchStatus.VIOLATED)
    violations = (_watch_violation(device.pack, watch, snapshot.sim_s) for watch in violated)
    return sorted(violations, key=lambda violation: LEVEL_ORDER[violation.level])


def still_open(pack: Pack, snapshot: Snapshot, gates: Sequence[str]) -> list[OpenFinding]:
    """Return the open errors that no other part of the view shows, the most severe first.

    Args:
        pack: has the seats.
        snapshot: the state.
        gates: ids of the gates that the view shows.
    """
    shown = {name for name, watch in snapshot.watches.items() if watch.status is WatchStatus.VIOLATED}
    found = [finding for finding in snapshot.findings_besides(gates) if finding.item not in shown]
    return [
        OpenFinding(
            finding.number,
            finding.level,
            finding.label,
            seat_title(pack.seats, finding.seat),
            snapshot.sentence_of(finding),
            short_duration(snapshot.sim_s - finding.sim_s),
        )
        for finding in sorted(found, key=lambda finding: LEVEL_ORDER[finding.level])
    ]


def _watch_violation(pack: Pack, watch: WatchSnapshot, sim_s: float) -> WatchViolation:
    return WatchViolation(
        watch.id,
        watch.level,
        watch.label,
        seat_title(pack.seats, watch.seat),
        watch.sentence,
        short_duration(sim_s - watch.since_s),
        watch.why,
    )


def _gate_view(pack: Pack, snapshot: Snapshot, name: str, *, link_lost: bool, violations: bool) -> GateView:
    gate = snapshot.gates[name]
    unknown = tuple(item for item in gate.no_data_items if link_lost and item.status is ItemStatus.UNKNOWN)
    levels = [item.level for item in gate.open_items] if gate.cued else []
    return GateView(
        gate.id,
        gate.title,
        gate.cued,
        gate.counts.open,
        gate.counts.needs,
        ", ".join(gate.text_parts[1:]),
        _verdict(gate, link_lost=bool(unknown), violations=violations),
        items_by_seat(pack, gate.open_items, snapshot.sim_s, gate.cued_s),
        resolved_items(pack, gate.met_items),
        resolved_items(pack, gate.waived_items),
        tuple(ListedItem(item.id, item.label) for item in gate.later_items),
        tuple(_listed(item) for item in unknown),
        tuple(_listed(item) for item in gate.no_data_items if item not in unknown),
        next((str(level) for level in (Level.WARNING, Level.CAUTION, Level.ADVISORY) if level in levels), ""),
        MAX_SHOWN_CUED if gate.cued else MAX_SHOWN,
    )


def _listed(item: ItemSnapshot) -> ListedItem:
    return ListedItem(item.id, item.label, item.sentence)


def _verdict(gate: GateSnapshot, *, link_lost: bool, violations: bool) -> str:
    """Choose the look of the headline; `clear` is the only one in the colour of all clear."""
    readiness = gate.counts.readiness
    if link_lost:
        return "unknown"
    if readiness is GateReadiness.OPEN:
        return "open" if gate.cued else "todo"
    if readiness is GateReadiness.CLEAR and violations:
        return "other_open"
    return _VERDICTS[readiness]


_VERDICTS = {
    GateReadiness.EMPTY: "empty",
    GateReadiness.NOT_JUDGED: "no_data",
    GateReadiness.OTHER_OPEN: "other_open",
    GateReadiness.PARTIAL: "partial",
    GateReadiness.LATER: "later",
    GateReadiness.CLEAR: "clear",
}
