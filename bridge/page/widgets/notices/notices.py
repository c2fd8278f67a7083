"""What is wrong now whatever the gate, and what was told last.

Takes: a rig.  Gives: what `told.html` and `aloud.html` show, and what `ahead.html` shows first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.page.widgets.item_list.item_list import LEVEL_ORDER, seat_title
from bridge.runtime.device import Device
from rules.judge.context import expect_id
from rules.judge.events import Notice
from rules.judge.watches import WatchState, WatchStatus
from rules.packs.model import Level

MAX_NOTICES = 8


@dataclass(frozen=True, slots=True)
class WatchViolation:
    """A limit that does not hold."""

    id: str
    level: Level
    label: str
    seat: str
    sentence: str
    duration_s: float
    why: str


@dataclass(frozen=True, slots=True)
class RecentNotice:
    """One notice; `number` counts those of the session from 1."""

    number: int
    sim_s: float
    level: Level
    seat: str
    sentence: str
    repeats: int
    open: bool


def recent_notices(device: Device) -> Mapping[str, object]:
    """The latest notices, the newest first; one that was told again stands where it was told last."""
    return {"told": _newest(device, MAX_NOTICES), "begun": bool(device.session.judge.context.phase)}


def watch_violations(device: Device) -> list[WatchViolation]:
    """The watches that do not hold, the gravest first."""
    states = device.session.judge.watches.states.values()
    broken = (_watch_violation(device, state) for state in states if state.status is WatchStatus.VIOLATED)
    return sorted(broken, key=lambda one: LEVEL_ORDER[one.level])


def live_region(device: Device) -> Mapping[str, object]:
    """The newest notice, for those who hear the page: a warning at once, anything else in its turn."""
    latest = _newest(device, 1)
    newest = latest[0] if latest else None
    return {
        "warning": newest if newest and newest.level is Level.WARNING else None,
        "other": newest if newest and newest.level is not Level.WARNING else None,
    }


def _watch_violation(device: Device, state: WatchState) -> WatchViolation:
    session, watch = device.session.judge.context, state.watch
    return WatchViolation(
        watch.id,
        watch.level,
        watch.label,
        seat_title(device.pack.seats, watch.seat),
        session.monitors.explain(expect_id(watch.id)).sentence,
        session.sim_s - state.since_s,
        watch.why,
    )


def _newest(device: Device, limit: int) -> list[RecentNotice]:
    notices = device.journal.notices
    shown: list[RecentNotice] = []
    seen: set[int] = set()
    for number in range(len(notices), 0, -1):
        finding = notices[number - 1].finding
        if finding and finding in seen:
            continue
        seen.add(finding)
        shown.append(_recent_notice(device, number, notices[number - 1]))
        if len(shown) == limit:
            break
    return shown


def _recent_notice(device: Device, number: int, notice: Notice) -> RecentNotice:
    finding = device.journal.findings.get(notice.finding)
    return RecentNotice(
        number,
        notice.sim_s,
        notice.level,
        seat_title(device.pack.seats, notice.seat),
        notice.sentence,
        notice.repeats,
        finding is not None and finding.closed_s is None,
    )
