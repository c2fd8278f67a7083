"""What the instructor sees of a device: its session, its findings, calls to enter, items to excuse.

Takes: a rig.  Gives: what `instructor.html`, `entering.html`, `excusing.html` and `findings.html` show.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.page.panels.calls import call_views, grouped, waited_for
from bridge.page.panels.parts import seat_title
from bridge.requests import LONGEST_NAME, LONGEST_REMARK
from bridge.rig import Rig
from rules.judge.entries import Finding
from rules.packs.model import Gate

OUTSIDE = ("ground", "atc", "cabin")


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
class Excusable:
    """An item of a gate in play."""

    id: str
    label: str
    seat: str
    gate: str
    life: str


def instructor(rig: Rig) -> Mapping[str, object]:
    """The session as it stands, who sits where, and the sessions that are over."""
    return {
        "title": rig.title,
        "session": rig.session,
        "began_utc": rig.began_utc,
        "crew": [(seat, title, rig.session.crew.get(seat, "")) for seat, title in rig.pack.seats.items()],
        "longest_name": LONGEST_NAME,
        "longest_remark": LONGEST_REMARK,
        "reception": rig.reception(),
        "past": [
            (past, [f"{_seat(rig, seat)}: {who}" for seat, who in past.crew.items()]) for past in rig.past
        ][::-1],
        "excused": [(s.item.label, s.excused) for s in rig.session.core.items.states.values() if s.excused],
    }


def excusing(rig: Rig) -> Mapping[str, object]:
    """The items of the gates in play, those that are open first."""
    core, found = rig.session.core, dict[str, Excusable]()
    for gate in rig.pack.gates:
        if gate.id in core.session.in_play:
            for item in gate.needs:
                found.setdefault(item, _excusable(rig, item, gate))
    return {
        "items": sorted(found.values(), key=lambda item: item.life not in ("lost", "open")),
        "begun": core.session.phase,
    }


def entering(rig: Rig) -> Mapping[str, object]:
    """The calls that come from outside the flight deck."""
    return {"groups": grouped(rig.pack, call_views(rig), OUTSIDE), "wanted": waited_for(rig)}


def findings(rig: Rig) -> Mapping[str, object]:
    """The findings so far, the newest first."""
    found = [_finding(rig, one) for one in reversed(rig.journal.findings.values())]
    return {"findings": found, "open": sum(one.closed_s is None for one in found)}


def _excusable(rig: Rig, item: str, gate: Gate) -> Excusable:
    state = rig.session.core.items.states[item]
    return Excusable(item, state.item.label, _seat(rig, state.item.seat), gate.title, str(state.life))


def _finding(rig: Rig, one: Finding) -> FindingView:
    return FindingView(
        one.number,
        one.sim_s,
        str(one.level),
        str(one.kind).replace("_", " "),
        one.label,
        one.sentence,
        _seat(rig, one.seat),
        rig.session.core.session.title(one.gate),
        one.closed_s,
        one.why,
    )


def _seat(rig: Rig, seat: str) -> str:
    return seat_title(rig.pack.seats, seat)
