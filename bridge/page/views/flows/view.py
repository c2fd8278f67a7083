"""The flows of both seats, those of the present phase first.

Takes: a rig.  Gives: what `flows.html` shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bridge.page.widgets.item_list.item_list import seat_title
from bridge.runtime.device import Device
from bridge.terminal.terminal_snapshot import SATISFIED, gates_ahead
from rules.judge.events import ItemStatus
from rules.judge.items import ItemState
from rules.judge.judge import Judge
from rules.packs.model import Flow

UNKNOWN = "cannot tell"
UNDONE = "undone"


@dataclass(frozen=True, slots=True)
class FlowItemView:
    """One item; `life` is a word for it, `sentence` only where it is not done, or was excused."""

    id: str
    label: str
    life: str
    resolved: bool
    level: str
    sentence: str
    state_age_s: float
    confirmable: bool
    after_text: str


@dataclass(frozen=True, slots=True)
class SeatFlowView:
    """One seat's part: how many of its items are done."""

    seat: str
    title: str
    resolved_count: int
    items: tuple[FlowItemView, ...]


@dataclass(frozen=True, slots=True)
class FlowView:
    """One flow."""

    id: str
    title: str
    seats: tuple[SeatFlowView, ...]

    @property
    def resolved_count(self) -> int:
        """How many items of all seats are done."""
        return sum(seat.resolved_count for seat in self.seats)

    @property
    def item_count(self) -> int:
        """How many items there are."""
        return sum(len(seat.items) for seat in self.seats)


@dataclass(frozen=True, slots=True)
class FlowProgress:
    """A flow of another phase, in numbers."""

    id: str
    title: str
    resolved_count: int
    item_count: int


def flows(device: Device) -> Mapping[str, object]:
    """The flows of the present phase, then those that the next gate needs; the others in numbers."""
    core, pack = device.session.judge, device.pack
    now = [flow for flow in pack.flows.values() if flow.phase == core.context.phase]
    needed = {item for gate in gates_ahead(core) for item in gate.needs}
    soon = [flow for flow in pack.flows.values() if flow not in now and needed & set(_items(flow))]
    rest = [flow for flow in pack.flows.values() if flow not in now and flow not in soon]
    return {
        "now": [_flow_view(core, flow) for flow in now],
        "soon": [_flow_view(core, flow) for flow in soon],
        "rest": [_flow_progress(core, flow) for flow in rest],
        "begun": bool(core.context.phase),
    }


def _items(flow: Flow) -> Iterable[str]:
    return (item for items in flow.seats.values() for item in items)


def _flow_progress(core: Judge, flow: Flow) -> FlowProgress:
    lives = [core.items.states[item].status for item in _items(flow)]
    return FlowProgress(flow.id, flow.title, sum(life in SATISFIED for life in lives), len(lives))


def _flow_view(core: Judge, flow: Flow) -> FlowView:
    return FlowView(
        flow.id, flow.title, tuple(_seat_view(core, seat, items) for seat, items in flow.seats.items())
    )


def _seat_view(core: Judge, seat: str, items: Iterable[str]) -> SeatFlowView:
    shown = tuple(_item_view(core, core.items.states[item]) for item in items)
    title = seat_title(core.context.pack.seats, seat)
    return SeatFlowView(seat, title, sum(item.resolved for item in shown), shown)


def _item_view(core: Judge, state: ItemState) -> FlowItemView:
    item, done = state.item, state.status in SATISFIED
    return FlowItemView(
        item.id,
        item.label,
        _state_text(state),
        done,
        str(item.level),
        _sentence(core, state, done=done),
        core.context.sim_s - state.since_s,
        bool(item.confirm),
        item.after_text,
    )


def _state_text(state: ItemState) -> str:
    """The item's life as a word; what was met and is out of date was not undone."""
    if state.truth is None and state.status in (ItemStatus.OPEN, ItemStatus.LOST):
        return UNKNOWN
    return UNDONE if state.status is ItemStatus.LOST else str(state.status)


def _sentence(core: Judge, state: ItemState, *, done: bool) -> str:
    if state.waived:
        return state.waived
    return "" if done else core.items.reason(state).sentence
