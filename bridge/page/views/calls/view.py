"""The calls to enter, grouped by who says them, and what only the crew can confirm.

Takes: a rig.  Gives: what `calls.html` shows.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import chain

from bridge.page.widgets.item_list.item_list import seat_title
from bridge.runtime.device import Device
from bridge.terminal.terminal_snapshot import SATISFIED, gates_soon
from rules.judge.condition_facts import nodes_of
from rules.judge.items import ItemState
from rules.language.checked_tree import CallEvent, Condition
from rules.packs.model import Call, Pack

GROUP_TITLES = {"ground": "Ground", "atc": "ATC", "cabin": "Cabin"}


@dataclass(frozen=True, slots=True)
class CallView:
    """One call.  `utc` and `sim_s` are those of its latest making, None where it was not made (or waits for a frame).

    `undo_s` is for how many more seconds it may be taken back.
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
    """The calls of one who speaks."""

    id: str
    title: str
    calls: tuple[CallView, ...]


@dataclass(frozen=True, slots=True)
class ConfirmableItem:
    """An item that no signal shows."""

    id: str
    text: str
    seat: str
    seat_title: str
    confirmed: bool
    since_s: float


def calls(device: Device) -> Mapping[str, object]:
    """What is waited for, every call by group, and what is to be confirmed."""
    wanted = awaited_calls(device)
    views = {
        call.id: _call_view(device, call, wanted.get(call.id, "")) for call in device.pack.calls.values()
    }
    return {
        "waited": [views[name] for name in wanted if _is_awaited(views[name])],
        "groups": call_groups(device.pack, views),
        "confirms": [_confirmable_item(device, state) for state in _confirmable_states(device)],
    }


def call_views(device: Device) -> dict[str, CallView]:
    """Every call as it stands."""
    return {call.id: _call_view(device, call, "") for call in device.pack.calls.values()}


def call_groups(pack: Pack, views: Mapping[str, CallView], only: Iterable[str] = ()) -> list[CallGroup]:
    """The calls by who says them: those outside first, then the seats.

    Args:
        pack: has the calls and the seats.
        views: each call as it is shown.
        only: groups that are wanted; all where none is named.
    """
    names = dict.fromkeys((*GROUP_TITLES, *pack.seats, *(call.by for call in pack.calls.values())))
    groups = (
        CallGroup(name, _group_title(pack, name), tuple(view for view in views.values() if view.by == name))
        for name in only or names
    )
    return [group for group in groups if group.calls]


def awaited_calls(device: Device) -> dict[str, str]:
    """Per call that the next gates wait for, the title of the first of them: their cues, entries and open needs.

    A call that can still be taken back counts among them, so that it stays in its place.
    """
    core, found = device.session.judge, dict[str, str]()
    for gate in gates_soon(core):
        states = [core.items.states[item] for item in gate.needs]
        heard = _calls_in(
            gate.cue, gate.entry, *_conditions(state for state in states if state.status not in SATISFIED)
        )
        recent = {
            call for call in _calls_in(*_conditions(states)) if device.session.call_register.undo_left_s(call)
        }
        for call in device.pack.calls:
            if call in heard | recent:
                found.setdefault(call, gate.title)
    return found


def _conditions(states: Iterable[ItemState]) -> Iterator[Condition | None]:
    return (part for state in states for part in (state.item.condition, state.item.after))


def _calls_in(*conditions: Condition | None) -> set[str]:
    parts = chain.from_iterable(map(nodes_of, conditions))
    return {part.name for part in parts if isinstance(part, CallEvent)}


def _is_awaited(view: CallView) -> bool:
    """One that was just made stays where it is, so that nothing moves under a thumb."""
    return view.utc is None or view.undo_left_s > 0


def _call_view(device: Device, call: Call, gate: str) -> CallView:
    spoken = device.session.call_register
    made = spoken.latest(call.id)
    return CallView(
        call.id,
        call.title,
        call.by,
        _group_title(device.pack, call.by),
        _group_title(device.pack, made.by) if made and made.by else "",
        made.utc if made else None,
        made.sim_s if made else None,
        math.ceil(spoken.undo_left_s(call.id)),
        gate,
    )


def _group_title(pack: Pack, name: str) -> str:
    return GROUP_TITLES.get(name) or seat_title(pack.seats, name)


def _confirmable_states(device: Device) -> list[ItemState]:
    """Those of the gates in play, each once."""
    core = device.session.judge
    gates = (gate for gate in device.pack.gates if gate.id in core.context.active_gates)
    names = dict.fromkeys(item for gate in gates for item in gate.needs)
    return [core.items.states[name] for name in names if device.pack.items[name].confirm]


def _confirmable_item(device: Device, state: ItemState) -> ConfirmableItem:
    seat = state.confirmed_by or state.item.seat
    title = seat_title(device.pack.seats, seat)
    return ConfirmableItem(
        state.item.id, state.item.confirm, state.item.seat, title, state.status in SATISFIED, state.since_s
    )
