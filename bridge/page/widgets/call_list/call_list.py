"""Lists the calls of a pack by the group or seat that makes them.

Takes: a device.  Gives: `CallView`s and `CallGroup`s for the templates.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bridge.page.widgets.item_list.item_list import seat_title
from bridge.runtime.device import Device
from bridge.session.gates_ahead import gates_soon
from rules.packs.condition_facts import calls_awaited
from rules.packs.model import Call, Item, Pack

OUTSIDE_GROUPS = ("ground", "atc", "cabin")
"""Callers outside the cockpit; their calls come first."""


@dataclass(frozen=True, slots=True)
class CallView:
    """One call, with its latest entry.

    `utc` and `sim_s` are the times of that entry: `utc` is None if the call was not made, `sim_s` is None before the first
    frame.  `undo_left_s` is the number of seconds in which the entry can still be undone.
    """

    id: str
    title: str
    by: str
    group: str
    entered_by: str
    utc: float | None
    sim_s: float | None
    undo_left_s: int
    gate: str


@dataclass(frozen=True, slots=True)
class CallGroup:
    """The calls of one seat, or of one group outside the flight deck."""

    id: str
    title: str
    calls: tuple[CallView, ...]


def call_views(device: Device, awaited: Mapping[str, str] | None = None) -> dict[str, CallView]:
    """Return every call by its id.

    Args:
        device: the device.
        awaited: titles of the gates that wait for calls, by call, as of `awaited_calls`.
    """
    gates = awaited or {}
    return {call.id: _call_view(device, call, gates.get(call.id, "")) for call in device.pack.calls.values()}


def call_groups(pack: Pack, views: Mapping[str, CallView], only: Iterable[str] = ()) -> list[CallGroup]:
    """Group the calls: groups outside the flight deck first, then the seats.

    Args:
        pack: has the calls and the seats.
        views: the calls, by id.
        only: ids of the groups to return; empty for all.
    """
    names = dict.fromkeys((*OUTSIDE_GROUPS, *pack.seats, *(call.by for call in pack.calls.values())))
    groups = (
        CallGroup(
            name, seat_title(pack.seats, name), tuple(view for view in views.values() if view.by == name)
        )
        for name in only or names
    )
    return [group for group in groups if group.calls]


def awaited_calls(device: Device) -> dict[str, str]:
    """Return the calls that the next gates wait for, each with the title of the first such gate.

    A gate waits for the calls in its cue, its entry and its open needs.  A call that can still be undone is included, so that
    its button stays in place.
    """
    session, pack, found = device.session, device.pack, dict[str, str]()
    snapshot = session.current_snapshot()
    for gate in gates_soon(pack, snapshot):
        items = [pack.items[name] for name in gate.needs]
        open_items = [item for item in items if not snapshot.items[item.id].satisfied]
        awaited = calls_awaited(gate.cue, gate.entry) | _calls_of(open_items)
        undoable = {call for call in _calls_of(items) if session.call_register.undo_left_s(call)}
        for call in device.pack.calls:
            if call in awaited | undoable:
                found.setdefault(call, gate.title)
    return found


def _calls_of(items: Iterable[Item]) -> frozenset[str]:
    return calls_awaited(*(part for item in items for part in (item.condition, item.after)))


def _call_view(device: Device, call: Call, gate: str) -> CallView:
    register = device.session.call_register
    latest = register.latest(call.id)
    return CallView(
        call.id,
        call.title,
        call.by,
        seat_title(device.pack.seats, call.by),
        seat_title(device.pack.seats, latest.by) if latest and latest.by else "",
        latest.utc if latest else None,
        latest.sim_s if latest else None,
        math.ceil(register.undo_left_s(call.id)),
        gate,
    )
