"""Lists the items of a gate by seat, in the order of the screen.

Takes: snapshots of items.  Gives: `SeatItems` of open items, and `ResolvedItem`s.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bridge.common.time_text import short_duration
from rules.judge.events import LEAD_IN_TEXTS, ItemStatus, LeadIn, Verdict
from rules.judge.snapshot import ItemSnapshot
from rules.packs.model import Level, Pack, owner_title

LEVEL_ORDER = {Level.WARNING: 0, Level.CAUTION: 1, Level.ADVISORY: 2}
EITHER_SEAT = "Either seat"


@dataclass(frozen=True, slots=True)
class OpenItem:
    """An open item, and how long it has been due; `confirmable` if it has no signal and a crew member confirms it.

    It is due from the cue of its gate on; before that `due_for` is ''.
    """

    id: str
    label: str
    seat: str
    level: Level
    status: ItemStatus
    verdict: Verdict
    sentence: str
    actual: str
    wanted: str
    why: str
    since_s: float
    due_for: str
    confirmable: bool


@dataclass(frozen=True, slots=True)
class SeatItems:
    """The open items of one seat, in the order of the screen; `seat` is '' if any seat may do them."""

    seat: str
    title: str
    items: tuple[OpenItem, ...]


@dataclass(frozen=True, slots=True)
class ResolvedItem:
    """An item that needs no action, with its status and the time of its last change.

    `label` is the pack's own sentence for a met item, where it has one.
    """

    id: str
    label: str
    seat: str
    status: str
    since_s: float
    waiver: str = ""


def items_by_seat(
    pack: Pack, items: Iterable[ItemSnapshot], sim_s: float, cued_s: float | None
) -> tuple[SeatItems, ...]:
    """Group open items by seat, in the pack's order of seats; seats without items are left out.

    Args:
        pack: has the seats and the items.
        items: in the order of the gate.
        sim_s: simulator time of their snapshot.
        cued_s: time of the gate's cue, from which on the items are due and sorted by level first; None without one.
    """
    ordered = list(items) if cued_s is None else sorted(items, key=_severity)
    seats = dict.fromkeys((*pack.seats, *(item.seat for item in ordered)))
    groups = ((seat, [item for item in ordered if item.seat == seat]) for seat in seats)
    return tuple(
        SeatItems(
            seat,
            seat_title(pack.seats, seat),
            tuple(_open_item(pack, item, sim_s, cued_s) for item in group),
        )
        for seat, group in groups
        if group
    )


def resolved_items(pack: Pack, items: Iterable[ItemSnapshot]) -> tuple[ResolvedItem, ...]:
    """List items that need no action."""
    return tuple(
        ResolvedItem(
            item.id,
            item.sentence or item.label,
            seat_title(pack.seats, item.seat),
            status_text(item.status),
            item.since_s,
            item.waiver,
        )
        for item in items
    )


def status_text(status: ItemStatus) -> str:
    """Name a status on screens; what was met and is not any more is to be checked again, as the voice says it."""
    return LEAD_IN_TEXTS[LeadIn.UNDONE] if status is ItemStatus.LOST else str(status)


def seat_title(seats: Mapping[str, str], seat: str) -> str:
    """Name a seat or another owner; without one, either seat."""
    return owner_title(seats, seat) or EITHER_SEAT


def _severity(item: ItemSnapshot) -> int:
    return LEVEL_ORDER[item.level]


def _open_item(pack: Pack, item: ItemSnapshot, sim_s: float, cued_s: float | None) -> OpenItem:
    return OpenItem(
        item.id,
        item.label,
        item.seat,
        item.level,
        item.status,
        item.verdict,
        item.sentence,
        item.actual,
        item.wanted,
        item.why,
        item.since_s,
        "" if cued_s is None else short_duration(sim_s - max(item.since_s, cued_s)),
        bool(pack.items[item.id].confirm),
    )
