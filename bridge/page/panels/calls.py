"""The calls to enter, grouped by who says them, and what only the crew can confirm.

Takes: a rig.  Gives: what `calls.html` shows.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import chain

from bridge.glance import DONE, gates_soon
from bridge.page.panels.parts import seat_title
from bridge.rig import Rig
from rules.judge.atoms import parts_of
from rules.judge.items import ItemState
from rules.language.checked import CallMade, Condition
from rules.packs.model import Call, Pack

GROUPS = {"ground": "Ground", "atc": "ATC", "cabin": "Cabin"}


@dataclass(frozen=True, slots=True)
class CallView:
    """One call.  `utc` and `sim_s` are those of its latest making, None where it was not made (or waits for a frame).

    `undo_s` is for how many more seconds it may be taken back.
    """

    id: str
    title: str
    by: str
    said_by: str
    entered_by: str
    utc: float | None
    sim_s: float | None
    undo_s: int
    gate: str


@dataclass(frozen=True, slots=True)
class Group:
    """The calls of one who speaks."""

    id: str
    title: str
    calls: tuple[CallView, ...]


@dataclass(frozen=True, slots=True)
class ToConfirm:
    """An item that no signal shows."""

    id: str
    text: str
    seat: str
    seat_title: str
    confirmed: bool
    since_s: float


def calls(rig: Rig) -> Mapping[str, object]:
    """What is waited for, every call by group, and what is to be confirmed."""
    wanted = waited_for(rig)
    views = {call.id: _view(rig, call, wanted.get(call.id, "")) for call in rig.pack.calls.values()}
    return {
        "waited": [views[name] for name in wanted if _shown_first(views[name])],
        "groups": grouped(rig.pack, views),
        "confirms": [_confirm(rig, state) for state in _confirmable(rig)],
    }


def call_views(rig: Rig) -> dict[str, CallView]:
    """Every call as it stands."""
    return {call.id: _view(rig, call, "") for call in rig.pack.calls.values()}


def grouped(pack: Pack, views: Mapping[str, CallView], only: Iterable[str] = ()) -> list[Group]:
    """The calls by who says them: those outside first, then the seats.

    Args:
        pack: has the calls and the seats.
        views: each call as it is shown.
        only: groups that are wanted; all where none is named.
    """
    names = dict.fromkeys((*GROUPS, *pack.seats, *(call.by for call in pack.calls.values())))
    groups = (
        Group(name, _group(pack, name), tuple(view for view in views.values() if view.by == name))
        for name in only or names
    )
    return [group for group in groups if group.calls]


def waited_for(rig: Rig) -> dict[str, str]:
    """Per call that the next gates wait for, the title of the first of them: their cues, entries and open needs.

    A call that can still be taken back counts among them, so that it stays in its place.
    """
    core, found = rig.session.core, dict[str, str]()
    for gate in gates_soon(core):
        states = [core.items.states[item] for item in gate.needs]
        heard = _heard(
            gate.cue, gate.entry, *_conditions(state for state in states if state.life not in DONE)
        )
        recent = {call for call in _heard(*_conditions(states)) if rig.session.spoken.left_s(call)}
        for call in rig.pack.calls:
            if call in heard | recent:
                found.setdefault(call, gate.title)
    return found


def _conditions(states: Iterable[ItemState]) -> Iterator[Condition | None]:
    return (part for state in states for part in (state.item.condition, state.item.after))


def _heard(*conditions: Condition | None) -> set[str]:
    parts = chain.from_iterable(map(parts_of, conditions))
    return {part.name for part in parts if isinstance(part, CallMade)}


def _shown_first(view: CallView) -> bool:
    """One that was just made stays where it is, so that nothing moves under a thumb."""
    return view.utc is None or view.undo_s > 0


def _view(rig: Rig, call: Call, gate: str) -> CallView:
    spoken = rig.session.spoken
    made = spoken.latest(call.id)
    return CallView(
        call.id,
        call.title,
        call.by,
        _group(rig.pack, call.by),
        _group(rig.pack, made.by) if made and made.by else "",
        made.utc if made else None,
        made.sim_s if made else None,
        math.ceil(spoken.left_s(call.id)),
        gate,
    )


def _group(pack: Pack, name: str) -> str:
    return GROUPS.get(name) or seat_title(pack.seats, name)


def _confirmable(rig: Rig) -> list[ItemState]:
    """Those of the gates in play, each once."""
    core = rig.session.core
    gates = (gate for gate in rig.pack.gates if gate.id in core.session.in_play)
    names = dict.fromkeys(item for gate in gates for item in gate.needs)
    return [core.items.states[name] for name in names if rig.pack.items[name].confirm]


def _confirm(rig: Rig, state: ItemState) -> ToConfirm:
    seat = state.confirmed_by or state.item.seat
    title = seat_title(rig.pack.seats, seat)
    return ToConfirm(
        state.item.id, state.item.confirm, state.item.seat, title, state.life in DONE, state.since_s
    )
