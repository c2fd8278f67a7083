"""What the instructor sees of a device: its session, its findings, calls to enter, items to excuse.

Takes: a rig.  Gives: what `instructor.html`, `entering.html`, `excusing.html` and `findings.html` show.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.page.views.calls.view import awaited_calls, call_groups, call_views
from bridge.page.widgets.item_list.item_list import seat_title
from bridge.runtime.device import Device
from bridge.session.request_handlers import MAX_NAME_LENGTH, MAX_REMARK_LENGTH
from rules.judge.events import Finding
from rules.packs.model import Gate

OUTSIDE_GROUPS = ("ground", "atc", "cabin")


@dataclass(frozen=True, slots=True)
class FindingView:
    """One finding as a line."""

    number: int
    sim_s: float
    level: str
    kind: str
    label: str
    sentence: str
    seat: str
    gate: str
    closed_s: float | None
    why: str


@dataclass(frozen=True, slots=True)
class WaivableItem:
    """An item of a gate in play."""

    id: str
    label: str
    seat: str
    gate: str
    life: str


def instructor(device: Device) -> Mapping[str, object]:
    """The session as it stands, who sits where, and the sessions that are over."""
    return {
        "title": device.title,
        "session": device.session,
        "began_utc": device.session_began_utc,
        "crew": [
            (seat, title, device.session.crew.get(seat, "")) for seat, title in device.pack.seats.items()
        ],
        "longest_name": MAX_NAME_LENGTH,
        "longest_remark": MAX_REMARK_LENGTH,
        "reception": device.link_report(),
        "past": [
            (past, [f"{_seat_title(device, seat)}: {who}" for seat, who in past.crew.items()])
            for past in device.past_sessions
        ][::-1],
        "excused": [(s.item.label, s.waived) for s in device.session.judge.items.states.values() if s.waived],
    }


def waivers(device: Device) -> Mapping[str, object]:
    """The items of the gates in play, those that are open first."""
    core, found = device.session.judge, dict[str, WaivableItem]()
    for gate in device.pack.gates:
        if gate.id in core.context.active_gates:
            for item in gate.needs:
                found.setdefault(item, _waivable_item(device, item, gate))
    return {
        "items": sorted(found.values(), key=lambda item: item.life not in ("lost", "open")),
        "begun": core.context.phase,
    }


def outside_calls(device: Device) -> Mapping[str, object]:
    """The calls that come from outside the flight deck."""
    return {
        "groups": call_groups(device.pack, call_views(device), OUTSIDE_GROUPS),
        "wanted": awaited_calls(device),
    }


def findings(device: Device) -> Mapping[str, object]:
    """The findings so far, the newest first."""
    found = [_finding_view(device, one) for one in reversed(device.journal.findings.values())]
    return {"findings": found, "open": sum(one.closed_s is None for one in found)}


def _waivable_item(device: Device, item: str, gate: Gate) -> WaivableItem:
    state = device.session.judge.items.states[item]
    return WaivableItem(
        item, state.item.label, _seat_title(device, state.item.seat), gate.title, str(state.status)
    )


def _finding_view(device: Device, one: Finding) -> FindingView:
    return FindingView(
        one.number,
        one.sim_s,
        str(one.level),
        str(one.kind).replace("_", " "),
        one.label,
        one.sentence,
        _seat_title(device, one.seat),
        device.session.judge.context.gate_title(one.gate),
        one.closed_s,
        one.why,
    )


def _seat_title(device: Device, seat: str) -> str:
    return seat_title(device.pack.seats, seat)
