"""What several panels need: the gravest first, by seat, and who may be told apart by words.

Takes: items and watches as they stand.  Gives: them in the order of a screen.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from rules.judge.items import ItemState
from rules.judge.snapshot import ItemSnapshot
from rules.packs.model import Level, Pack

LEVEL_ORDER = {Level.WARNING: 0, Level.CAUTION: 1, Level.ADVISORY: 2}
EITHER_SEAT = "Either seat"


@dataclass(frozen=True, slots=True)
class OpenItem:
    """An item that stands in the way; `confirmable` where no signal can show it."""

    snapshot: ItemSnapshot
    confirmable: bool


@dataclass(frozen=True, slots=True)
class SeatItems:
    """One seat's items, in the order in which they are shown; `seat` is '' where any seat may do it."""

    seat: str
    title: str
    items: tuple[OpenItem, ...]


@dataclass(frozen=True, slots=True)
class ResolvedItem:
    """An item that nobody need do anything about: how it came to that, and since when."""

    id: str
    label: str
    seat: str
    life: str
    since_s: float
    waiver: str = ""


def items_by_seat(pack: Pack, items: Iterable[ItemSnapshot], *, gravest_first: bool) -> tuple[SeatItems, ...]:
    """Each seat's items; seats in the pack's order, those without items left out.

    Args:
        pack: has the seats, and knows what no signal shows.
        items: in the order of the gate.
        gravest_first: whether the level goes before that order.
    """
    ordered = sorted(items, key=_severity) if gravest_first else list(items)
    seats = dict.fromkeys((*pack.seats, *(item.seat for item in ordered)))
    groups = ((seat, [item for item in ordered if item.seat == seat]) for seat in seats)
    return tuple(
        SeatItems(
            seat, pack.seats.get(seat, seat or EITHER_SEAT), tuple(_open_item(pack, item) for item in group)
        )
        for seat, group in groups
        if group
    )


def resolved_items(pack: Pack, states: Sequence[ItemState]) -> tuple[ResolvedItem, ...]:
    """Items as short lines; nothing is explained, so that many cost little."""
    return tuple(
        ResolvedItem(
            state.item.id,
            state.item.label,
            seat_title(pack.seats, state.item.seat),
            str(state.status),
            state.since_s,
            state.waived,
        )
        for state in states
    )


def seat_title(seats: Mapping[str, str], seat: str) -> str:
    """How a seat is called."""
    return seats.get(seat, seat or EITHER_SEAT)


def _severity(item: ItemSnapshot) -> int:
    return LEVEL_ORDER[item.level]


def _open_item(pack: Pack, item: ItemSnapshot) -> OpenItem:
    return OpenItem(item, bool(pack.items[item.id].confirm))
