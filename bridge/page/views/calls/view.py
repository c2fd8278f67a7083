"""Shows the calls to enter, and the items that only a crew member can confirm.

Takes: a device.  Gives: the values of the template.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from bridge.page.widgets.call_list.call_list import (
    CallInputs,
    CallView,
    awaited_calls,
    call_groups,
    call_inputs,
    call_views,
)
from bridge.page.widgets.item_list.item_list import seat_title
from bridge.runtime.device import Device
from rules.judge.snapshot import ItemSnapshot


@dataclass(frozen=True, slots=True)
class ConfirmableItem:
    """An item without a signal, which a crew member confirms."""

    id: str
    text: str
    seat: str
    seat_title: str
    confirmed: bool
    since_s: float


class CallsInputs(NamedTuple):
    """Calls and items that the view shows."""

    calls: CallInputs
    confirmable: tuple[ConfirmableItem, ...]


def calls_inputs(device: Device) -> CallsInputs:
    """Return the state of the calls, and the items to confirm."""
    confirmable = tuple(_confirmable_item(device, item) for item in _confirmable_items(device))
    return CallsInputs(call_inputs(device), confirmable)


def calls(inputs: CallsInputs) -> Mapping[str, object]:
    """Return the awaited calls, all calls by group, and the items to confirm."""
    awaited = awaited_calls(inputs.calls)
    views = call_views(inputs.calls, awaited)
    return {
        "awaited": [views[name] for name in awaited if _is_awaited(views[name])],
        "groups": call_groups(inputs.calls.pack, views),
        "confirmable": inputs.confirmable,
    }


def _is_awaited(view: CallView) -> bool:
    """Check if a call belongs in the list; a call just made stays, so that no button moves under a finger."""
    return view.utc is None or view.undo_left_s > 0


def _confirmable_items(device: Device) -> list[ItemSnapshot]:
    """Return the confirmable items of the active gates, each once."""
    gates = (gate for gate in device.session.current_snapshot().gates.values() if gate.active)
    items = {item.id: item for gate in gates for item in gate.needs}
    return [item for item in items.values() if device.pack.items[item.id].confirm]


def _confirmable_item(device: Device, item: ItemSnapshot) -> ConfirmableItem:
    title = seat_title(device.pack.seats, item.confirmed_by or item.seat)
    text = device.pack.items[item.id].confirm
    return ConfirmableItem(item.id, text, item.seat, title, item.satisfied, item.since_s)
