"""Shows the calls to enter, and the items that only a crew member can confirm.

Takes: a device.  Gives: the values of the template.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.page.widgets.call_list.call_list import CallView, awaited_calls, call_groups, call_views
from bridge.page.widgets.item_list.item_list import seat_title
from bridge.runtime.device import Device
from bridge.session.gates_ahead import SATISFIED
from rules.judge.items import ItemState


@dataclass(frozen=True, slots=True)
class ConfirmableItem:
    """An item without a signal, which a crew member confirms."""

    id: str
    text: str
    seat: str
    seat_title: str
    confirmed: bool
    since_s: float


def calls(device: Device) -> Mapping[str, object]:
    """Return the awaited calls, all calls by group, and the items to confirm."""
    awaited = awaited_calls(device)
    views = call_views(device, awaited)
    return {
        "awaited": [views[name] for name in awaited if _is_awaited(views[name])],
        "groups": call_groups(device.pack, views),
        "confirmable": [_confirmable_item(device, state) for state in _confirmable_states(device)],
    }


def _is_awaited(view: CallView) -> bool:
    """Check if a call belongs in the list; a call just made stays, so that no button moves under a finger."""
    return view.utc is None or view.undo_left_s > 0


def _confirmable_states(device: Device) -> list[ItemState]:
    """Return the confirmable items of the active gates, each once."""
    judge = device.session.judge
    gates = (gate for gate in device.pack.gates if gate.id in judge.context.active_gates)
    names = dict.fromkeys(item for gate in gates for item in gate.needs)
    return [judge.items.states[name] for name in names if device.pack.items[name].confirm]


def _confirmable_item(device: Device, state: ItemState) -> ConfirmableItem:
    seat = state.confirmed_by or state.item.seat
    title = seat_title(device.pack.seats, seat)
    return ConfirmableItem(
        state.item.id, state.item.confirm, state.item.seat, title, state.status in SATISFIED, state.since_s
    )
