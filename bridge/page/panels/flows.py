"""The flows of both seats, those of the present phase first.

Takes: a rig.  Gives: what `flows.html` shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bridge.glance import DONE, gates_ahead
from bridge.page.panels.parts import seat_title
from bridge.rig import Rig
from rules.judge.core import Core
from rules.judge.entries import Life
from rules.judge.items import ItemState
from rules.packs.model import Flow

CANNOT_TELL = "cannot tell"
UNDONE = "undone"


@dataclass(frozen=True, slots=True)
class FlowItem:
    """One item; `life` is a word for it, `sentence` only where it is not done, or was excused."""

    id: str
    label: str
    life: str
    done: bool
    level: str
    sentence: str
    held_s: float
    confirmable: bool
    after: str


@dataclass(frozen=True, slots=True)
class SeatFlow:
    """One seat's part: how many of its items are done."""

    seat: str
    title: str
    done: int
    items: tuple[FlowItem, ...]


@dataclass(frozen=True, slots=True)
class FlowView:
    """One flow."""

    id: str
    title: str
    seats: tuple[SeatFlow, ...]

    @property
    def done(self) -> int:
        """How many items of all seats are done."""
        return sum(seat.done for seat in self.seats)

    @property
    def of(self) -> int:
        """How many items there are."""
        return sum(len(seat.items) for seat in self.seats)


@dataclass(frozen=True, slots=True)
class FlowCounted:
    """A flow of another phase, in numbers."""

    id: str
    title: str
    done: int
    of: int


def flows(rig: Rig) -> Mapping[str, object]:
    """The flows of the present phase, then those that the next gate needs; the others in numbers."""
    core, pack = rig.session.core, rig.pack
    now = [flow for flow in pack.flows.values() if flow.phase == core.session.phase]
    needed = {item for gate in gates_ahead(core) for item in gate.needs}
    soon = [flow for flow in pack.flows.values() if flow not in now and needed & set(_items(flow))]
    rest = [flow for flow in pack.flows.values() if flow not in now and flow not in soon]
    return {
        "now": [_flow(core, flow) for flow in now],
        "soon": [_flow(core, flow) for flow in soon],
        "rest": [_counted(core, flow) for flow in rest],
        "begun": bool(core.session.phase),
    }


def _items(flow: Flow) -> Iterable[str]:
    return (item for items in flow.seats.values() for item in items)


def _counted(core: Core, flow: Flow) -> FlowCounted:
    lives = [core.items.states[item].life for item in _items(flow)]
    return FlowCounted(flow.id, flow.title, sum(life in DONE for life in lives), len(lives))


def _flow(core: Core, flow: Flow) -> FlowView:
    return FlowView(
        flow.id, flow.title, tuple(_seat(core, seat, items) for seat, items in flow.seats.items())
    )


def _seat(core: Core, seat: str, items: Iterable[str]) -> SeatFlow:
    shown = tuple(_item(core, core.items.states[item]) for item in items)
    title = seat_title(core.session.pack.seats, seat)
    return SeatFlow(seat, title, sum(item.done for item in shown), shown)


def _item(core: Core, state: ItemState) -> FlowItem:
    item, done = state.item, state.life in DONE
    return FlowItem(
        item.id,
        item.label,
        _life(state),
        done,
        str(item.level),
        _sentence(core, state, done=done),
        core.session.sim_s - state.since_s,
        bool(item.confirm),
        item.after_text,
    )


def _life(state: ItemState) -> str:
    """The item's life as a word; what was met and is out of date was not undone."""
    if state.truth is None and state.life in (Life.OPEN, Life.LOST):
        return CANNOT_TELL
    return UNDONE if state.life is Life.LOST else str(state.life)


def _sentence(core: Core, state: ItemState, *, done: bool) -> str:
    if state.excused:
        return state.excused
    return "" if done else core.items.reason(state).sentence
