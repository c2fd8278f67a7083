"""Shows the instructor a device's session, its findings, the calls from outside, and the items to waive.

Takes: a device.  Gives: the values of the templates of this folder.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from bridge.page.panel import link_view, session_view
from bridge.page.widgets.call_list.call_list import (
    OUTSIDE_GROUPS,
    CallInputs,
    awaited_calls,
    call_groups,
    call_views,
)
from bridge.page.widgets.item_list.item_list import seat_title, status_text
from bridge.runtime.device import Device, PastSession
from bridge.session.request_handlers import MAX_NAME_LENGTH, MAX_REMARK_LENGTH
from rules.judge.events import Finding
from rules.judge.gate_counts import OPEN_STATUSES
from rules.judge.snapshot import GateSnapshot, ItemSnapshot
from rules.packs.model import Pack

OPEN_TEXTS = frozenset(map(status_text, OPEN_STATUSES))
"""How the list names the items that are open; they come first."""


@dataclass(frozen=True, slots=True)
class WaivableItem:
    """An item of an active gate."""

    id: str
    label: str
    seat: str
    gate: str
    status: str


class WaivedItem(NamedTuple):
    """An item that is waived."""

    id: str
    label: str
    seat: str
    waiver: str
    waived_s: float | None
    waiver_can_be_undone: bool


class PastSessionView(NamedTuple):
    """A session that is over, with its people as text."""

    name: str
    began_utc: float
    ended_utc: float
    findings: int
    people: tuple[str, ...]


def instructor(device: Device) -> Mapping[str, object]:
    """Return the session, its crew, the waived items and the past sessions."""
    return {
        "title": device.title,
        "session": session_view(device),
        "began_utc": device.session_began_utc,
        "crew": [
            (seat, title, device.session.crew.get(seat, "")) for seat, title in device.pack.seats.items()
        ],
        "max_name_length": MAX_NAME_LENGTH,
        "max_remark_length": MAX_REMARK_LENGTH,
        "link_report": link_view(device),
        "past_sessions": [_past_session_view(device, past) for past in device.past_sessions][::-1],
        "waived": [
            WaivedItem(item.id, item.label, item.seat, item.waiver, item.waived_s, item.waiver_can_be_undone)
            for item in device.session.current_snapshot().items.values()
            if item.waiver
        ],
        "seats": device.pack.seats,
    }


def waivers(device: Device) -> Mapping[str, object]:
    """Return the items of the active gates that are not waived, the open ones first."""
    snapshot, found = device.session.current_snapshot(), dict[str, WaivableItem]()
    for gate in snapshot.gates.values():
        if gate.active:
            for item in (one for one in gate.needs if not one.waiver):
                found.setdefault(item.id, _waivable_item(device, item, gate))
    return {
        "items": sorted(found.values(), key=lambda item: item.status not in OPEN_TEXTS),
        "has_phase": bool(snapshot.phase),
    }


def outside_calls(inputs: CallInputs) -> Mapping[str, object]:
    """Return the calls from outside the flight deck."""
    return {
        "groups": call_groups(inputs.pack, call_views(inputs), OUTSIDE_GROUPS),
        "awaited": awaited_calls(inputs),
    }


class FindingsInputs(NamedTuple):
    """Findings that the panel shows."""

    pack: Pack
    findings: tuple[Finding, ...]


def findings_inputs(device: Device) -> FindingsInputs:
    """Return the findings, the newest first."""
    return FindingsInputs(device.pack, tuple(device.journal.findings.values())[::-1])


def findings(inputs: FindingsInputs) -> Mapping[str, object]:
    """Return the findings with their gates and seats."""
    pack, found = inputs
    titles = {gate.id: gate.title for gate in pack.gates}
    return {
        "findings": found,
        "open_count": sum(finding.closed_s is None for finding in found),
        "seats": {finding.seat: seat_title(pack.seats, finding.seat) for finding in found},
        "gates": {finding.gate: titles.get(finding.gate, "") for finding in found},
    }


def _past_session_view(device: Device, past: PastSession) -> PastSessionView:
    people = (f"{_seat_title(device, seat)}: {person}" for seat, person in past.crew.items())
    return PastSessionView(past.name, past.began_utc, past.ended_utc, past.findings, tuple(people))


def _waivable_item(device: Device, item: ItemSnapshot, gate: GateSnapshot) -> WaivableItem:
    return WaivableItem(
        item.id, item.label, _seat_title(device, item.seat), gate.title, status_text(item.status)
    )


def _seat_title(device: Device, seat: str) -> str:
    return seat_title(device.pack.seats, seat)
