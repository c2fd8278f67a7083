"""Lists the calls of a pack by the group or seat that makes them.

Takes: a device.  Gives: `CallView`s and `CallGroup`s for the templates.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from bridge.page.widgets.item_list.item_list import seat_title
from bridge.runtime.device import Device
from bridge.session.call_register import RegisteredCall
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


class CallInputs(NamedTuple):
    """Calls that the lists show.

    `gates` are the ids of the next gates, `satisfied` those of their satisfied needs.  `latest` and `undo_left_s` are the latest entry
    of each call and the seconds in which it can be undone, in the order of the pack.
    """

    pack: Pack
    gates: tuple[str, ...]
    satisfied: frozenset[str]
    latest: tuple[RegisteredCall | None, ...]
    undo_left_s: tuple[int, ...]


def call_inputs(device: Device) -> CallInputs:
    """Return what the lists of calls show now."""
    pack, session = device.pack, device.session
    snapshot, register = session.current_snapshot(), session.call_register
    gates = gates_soon(pack, snapshot)
    return CallInputs(
        pack,
        tuple(gate.id for gate in gates),
        frozenset(name for gate in gates for name in gate.needs if snapshot.items[name].satisfied),
        tuple(register.latest(call) for call in pack.calls),
        tuple(math.ceil(register.undo_left_s(call)) for call in pack.calls),
    )


def call_views(inputs: CallInputs, awaited: Mapping[str, str] | None = None) -> dict[str, CallView]:
    """Return every call by its id.

    Args:
        inputs: as of `call_inputs`.
        awaited: titles of the gates that wait for calls, by call, as of `awaited_calls`.
    """
    gates = awaited or {}
    entries = zip(inputs.pack.calls.values(), inputs.latest, inputs.undo_left_s, strict=True)
    return {
        call.id: _call_view(inputs.pack, call, latest, left_s, gates.get(call.id, ""))
        for call, latest, left_s in entries
    }


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


def awaited_calls(inputs: CallInputs) -> dict[str, str]:
    """Return the calls that the next gates wait for, each with the title of the first such gate.

    A gate waits for the calls in its cue, its entry and its open needs.  A call that can still be undone is included, so that
    its button stays in place.
    """
    pack, found = inputs.pack, dict[str, str]()
    gates = {gate.id: gate for gate in pack.gates}
    can_be_undone = {call for call, left_s in zip(pack.calls, inputs.undo_left_s, strict=True) if left_s}
    for gate in (gates[name] for name in inputs.gates):
        items = [pack.items[name] for name in gate.needs]
        open_items = [item for item in items if item.id not in inputs.satisfied]
        awaited = calls_awaited(gate.cue, gate.entry) | _calls_of(open_items)
        undoable = _calls_of(items) & can_be_undone if can_be_undone else frozenset[str]()
        for call in pack.calls:
            if call in awaited | undoable:
                found.setdefault(call, gate.title)
    return found


def _calls_of(items: Iterable[Item]) -> frozenset[str]:
    return calls_awaited(*(part for item in items for part in (item.condition, item.after)))


def _call_view(
    pack: Pack, call: Call, latest: RegisteredCall | None, undo_left_s: int, gate: str
) -> CallView:
    return CallView(
        call.id,
        call.title,
        call.by,
        seat_title(pack.seats, call.by),
        seat_title(pack.seats, latest.by) if latest and latest.by else "",
        latest.utc if latest else None,
        latest.sim_s if latest else None,
        undo_left_s,
        gate,
    )
