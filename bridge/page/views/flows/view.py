"""Shows the flows of both seats, those of the current phase first.

Takes: a device.  Gives: the values of the template.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bridge.page.widgets.item_list.item_list import seat_title, status_text
from bridge.runtime.device import Device
from bridge.session.gates_ahead import gates_ahead
from rules.judge.events import ItemStatus
from rules.judge.snapshot import ItemSnapshot, Snapshot
from rules.packs.model import Flow, Item, Pack


@dataclass(frozen=True, slots=True)
class FlowItemView:
    """One item; `sentence` is the reason why it is open or waived, '' if it is resolved otherwise."""

    id: str
    label: str
    status_text: str
    resolved: bool
    level: str
    sentence: str
    confirmable: bool
    after_text: str


@dataclass(frozen=True, slots=True)
class SeatFlowView:
    """One seat's part of a flow; items without data are apart, so that they do not hide the others."""

    seat: str
    title: str
    resolved_count: int
    items: tuple[FlowItemView, ...]
    no_data: tuple[FlowItemView, ...]

    @property
    def item_count(self) -> int:
        """Number of items, those without data too."""
        return len(self.items) + len(self.no_data)


@dataclass(frozen=True, slots=True)
class FlowView:
    """One flow, seat by seat."""

    id: str
    title: str
    seats: tuple[SeatFlowView, ...]

    @property
    def resolved_count(self) -> int:
        """Number of resolved items of all seats."""
        return sum(seat.resolved_count for seat in self.seats)

    @property
    def item_count(self) -> int:
        """Number of items of all seats."""
        return sum(seat.item_count for seat in self.seats)


@dataclass(frozen=True, slots=True)
class FlowProgress:
    """The progress of a flow of another phase."""

    id: str
    title: str
    resolved_count: int
    item_count: int


def flows(device: Device) -> Mapping[str, object]:
    """Return the flows of the current phase, the flows that the next gate needs, and the progress of the others."""
    snapshot, pack = device.session.current_snapshot(), device.pack
    current = [flow for flow in pack.flows.values() if flow.phase == snapshot.phase]
    needed = {item for gate in gates_ahead(pack, snapshot) for item in gate.needs}
    upcoming = [flow for flow in pack.flows.values() if flow not in current and needed & set(_items(flow))]
    other = [flow for flow in pack.flows.values() if flow not in current and flow not in upcoming]
    return {
        "current": [_flow_view(pack, snapshot, flow) for flow in current],
        "upcoming": [_flow_view(pack, snapshot, flow) for flow in upcoming],
        "other": [_flow_progress(snapshot, flow) for flow in other],
        "has_phase": bool(snapshot.phase),
    }


def _items(flow: Flow) -> Iterable[str]:
    return (item for items in flow.seats.values() for item in items)


def _flow_progress(snapshot: Snapshot, flow: Flow) -> FlowProgress:
    satisfied = [snapshot.items[item].satisfied for item in _items(flow)]
    return FlowProgress(flow.id, flow.title, sum(satisfied), len(satisfied))


def _flow_view(pack: Pack, snapshot: Snapshot, flow: Flow) -> FlowView:
    seats = (_seat_view(pack, snapshot, seat, items) for seat, items in flow.seats.items())
    return FlowView(flow.id, flow.title, tuple(seats))


def _seat_view(pack: Pack, snapshot: Snapshot, seat: str, items: Iterable[str]) -> SeatFlowView:
    known: list[FlowItemView] = []
    no_data: list[FlowItemView] = []
    for name in items:
        state = snapshot.items[name]
        view = _item_view(pack.items[name], state)
        (no_data if state.status is ItemStatus.NO_DATA else known).append(view)
    resolved = sum(view.resolved for view in known)
    return SeatFlowView(seat, seat_title(pack.seats, seat), resolved, tuple(known), tuple(no_data))


def _item_view(item: Item, state: ItemSnapshot) -> FlowItemView:
    return FlowItemView(
        item.id,
        item.label,
        status_text(state.status),
        state.satisfied,
        str(item.level),
        state.waiver or state.sentence,
        bool(item.confirm),
        item.after_text,
    )
