"""What is wrong now whatever the gate, and what was told last.

Takes: a rig.  Gives: what `told.html` and `aloud.html` show.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.page.panels.parts import GRAVITY, seat_title
from bridge.rig import Rig
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
    """The watches that do not hold, the gravest first; the latest notices, the newest first."""
    core = rig.session.core
    broken = [state for state in core.watches.states.values() if state.standing is Standing.BROKEN]
    wrong = sorted((_wrong(rig, state) for state in broken), key=lambda one: GRAVITY[one.level])
    return {"wrong": wrong, "told": _latest(rig, TOLD), "begun": bool(core.session.phase)}


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
    notices, findings = rig.journal.notices, rig.journal.findings
    first = max(0, len(notices) - most)
    return [
        ToldLast(
            first + at + 1,
            notice.sim_s,
            notice.level,
            seat_title(rig.pack.seats, notice.seat),
            notice.sentence,
            notice.repeats,
            notice.finding in findings and findings[notice.finding].closed_s is None,
        )
        for at, notice in reversed(list(enumerate(notices[first:])))
    ]
