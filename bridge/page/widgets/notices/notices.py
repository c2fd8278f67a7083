"""Shows the recent notices, and the newest one in a live region for screen readers.

Takes: a device.  Gives: the values of both templates.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.page.widgets.item_list.item_list import seat_title
from bridge.runtime.device import Device
from rules.judge.events import Notice
from rules.packs.model import Level

MAX_NOTICES = 8


@dataclass(frozen=True, slots=True)
class RecentNotice:
    """One notice; `number` counts the notices of the session from 1."""

    number: int
    sim_s: float
    level: Level
    seat: str
    sentence: str
    repeats: int
    open: bool


def recent_notices(device: Device) -> Mapping[str, object]:
    """Return the latest notices, the newest first; a repeated notice appears once, at its latest place."""
    return {"notices": _newest(device, MAX_NOTICES)}


def live_region(device: Device) -> Mapping[str, object]:
    """Return the newest notice: a warning interrupts the screen reader, other levels wait."""
    latest = _newest(device, 1)
    newest = latest[0] if latest else None
    return {
        "warning": newest if newest and newest.level is Level.WARNING else None,
        "other": newest if newest and newest.level is not Level.WARNING else None,
    }


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
