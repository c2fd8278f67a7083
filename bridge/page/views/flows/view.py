"""Shows the flows of both seats, those of the current phase first.

Takes: a device.  Gives: the values of the template.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bridge.page.widgets.item_list.item_list import seat_title, status_text
from bridge.runtime.device import Device
from bridge.session.gates_ahead import SATISFIED, gates_ahead
from rules.judge.events import ItemStatus
from rules.judge.items import ItemState
from rules.judge.judge import Judge
from rules.packs.model import Flow

UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class FlowItemView:
    """One item; `sentence` is the reason why it is open or waived, '' if it is resolved otherwise."""

    id: str
    label: str
    status_text: str
    resolved: bool
    level: str
    sentence: str
    state_age_s: float
    confirmable: bool
    after_text: str


@dataclass(frozen=True, slots=True)
class SeatFlowView:
    """One seat's part of a flow."""

    seat: str
    title: str
    resolved_count: int
    items: tuple[FlowItemView, ...]


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
        return sum(len(seat.items) for seat in self.seats)


@dataclass(frozen=True, slots=True)
class FlowProgress:
    """The progress of a flow of another phase."""

    id: str
    title: str
    resolved_count: int
    item_count: int


def flows(device: Device) -> Mapping[str, object]:
    """Return the flows of the current phase, the flows that the next gate needs, and the progress of the others."""
    judge, pack = device.session.judge, device.pack
    current = [flow for flow in pack.flows.values() if flow.phase == judge.context.phase]
    needed = {item for gate in gates_ahead(judge) for item in gate.needs}
    upcoming = [flow for flow in pack.flows.values() if flow not in current and needed & set(_items(flow))]
    other = [flow for flow in pack.flows.values() if flow not in current and flow not in upcoming]
    return {
        "current": [_flow_view(judge, flow) for flow in current],
        "upcoming": [_flow_view(judge, flow) for flow in upcoming],
        "other": [_flow_progress(judge, flow) for flow in other],
        "has_phase": bool(judge.context.phase),
    }


def _items(flow: Flow) -> Iterable[str]:
    return (item for items in flow.seats.values() for item in items)


def _flow_progress(judge: Judge, flow: Flow) -> FlowProgress:
    states = [judge.items.states[item].status for item in _items(flow)]
    return FlowProgress(flow.id, flow.title, sum(status in SATISFIED for status in states), len(states))


def _flow_view(judge: Judge, flow: Flow) -> FlowView:
    return FlowView(
        flow.id, flow.title, tuple(_seat_view(judge, seat, items) for seat, items in flow.seats.items())
    )


def _seat_view(judge: Judge, seat: str, items: Iterable[str]) -> SeatFlowView:
    views = tuple(_item_view(judge, judge.items.states[item]) for item in items)
    title = seat_title(judge.context.pack.seats, seat)
    return SeatFlowView(seat, title, sum(view.resolved for view in views), views)


def _item_view(judge: Judge, state: ItemState) -> FlowItemView:
    item, resolved = state.item, state.status in SATISFIED
    return FlowItemView(
        item.id,
        item.label,
        _state_text(state),
        resolved,
        str(item.level),
        _sentence(judge, state, resolved=resolved),
        judge.context.sim_s - state.since_s,
        bool(item.confirm),
        item.after_text,
    )


def _state_text(state: ItemState) -> str:
    """Name the item's status; an item whose signals are out of date is unknown, not undone."""
    if state.truth is None and state.status in (ItemStatus.OPEN, ItemStatus.LOST):
        return UNKNOWN
    return status_text(state.status)


def _sentence(judge: Judge, state: ItemState, *, resolved: bool) -> str:
    if state.waived:
        return state.waiver_text
    return "" if resolved else judge.items.reason(state).sentence
