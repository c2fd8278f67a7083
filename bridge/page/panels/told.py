"""What is wrong now whatever the gate, and what was told last.

Takes: a rig.  Gives: what `told.html` and `aloud.html` show, and what `ahead.html` shows first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.page.panels.parts import GRAVITY, seat_title
from bridge.rig import Rig
from rules.judge.entries import Notice
from rules.judge.session import expect_id
from rules.judge.watches import Standing, WatchState
from rules.packs.model import Level

TOLD = 8


@dataclass(frozen=True, slots=True)
class WrongNow:
    """A limit that does not hold."""

    id: str
    level: Level
    label: str
    seat: str
    sentence: str
    held_s: float
    why: str


@dataclass(frozen=True, slots=True)
class ToldLast:
    """One notice; `number` counts those of the session from 1."""

    number: int
    sim_s: float
    level: Level
    seat: str
    sentence: str
    repeats: int
    open: bool


def told(rig: Rig) -> Mapping[str, object]:
    """The latest notices, the newest first; one that was told again stands where it was told last."""
    return {"told": _latest(rig, TOLD), "begun": bool(rig.session.core.session.phase)}


def wrong_now(rig: Rig) -> list[WrongNow]:
    """The watches that do not hold, the gravest first."""
    states = rig.session.core.watches.states.values()
    broken = (_wrong(rig, state) for state in states if state.standing is Standing.BROKEN)
    return sorted(broken, key=lambda one: GRAVITY[one.level])


def aloud(rig: Rig) -> Mapping[str, object]:
    """The newest notice, for those who hear the page: a warning at once, anything else in its turn."""
    latest = _latest(rig, 1)
    newest = latest[0] if latest else None
    return {
        "warning": newest if newest and newest.level is Level.WARNING else None,
        "other": newest if newest and newest.level is not Level.WARNING else None,
    }


def _wrong(rig: Rig, state: WatchState) -> WrongNow:
    session, watch = rig.session.core.session, state.watch
    return WrongNow(
        watch.id,
        watch.level,
        watch.label,
        seat_title(rig.pack.seats, watch.seat),
        session.monitors.explain(expect_id(watch.id)).sentence,
        session.sim_s - state.since_s,
        watch.why,
    )


def _latest(rig: Rig, most: int) -> list[ToldLast]:
    notices = rig.journal.notices
    shown: list[ToldLast] = []
    seen: set[int] = set()
    for number in range(len(notices), 0, -1):
        finding = notices[number - 1].finding
        if finding and finding in seen:
            continue
        seen.add(finding)
        shown.append(_told(rig, number, notices[number - 1]))
        if len(shown) == most:
            break
    return shown


def _told(rig: Rig, number: int, notice: Notice) -> ToldLast:
    finding = rig.journal.findings.get(notice.finding)
    return ToldLast(
        number,
        notice.sim_s,
        notice.level,
        seat_title(rig.pack.seats, notice.seat),
        notice.sentence,
        notice.repeats,
        finding is not None and finding.closed_s is None,
    )
