"""The flight as lines that a person reads, kept in memory within a bound.

Takes: entries and notes, as a listener.  Gives: `Line`s in their order, each with the time of the simulator and of the day.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from bridge.notes import Remarked, SessionNoted, Told
from rules.judge.entries import (
    CallEntered,
    CallRetracted,
    GateCued,
    GateEntered,
    MonitorsReset,
    Notice,
    PapersAmended,
    PhaseEntered,
)
from rules.packs.model import Pack

MOST_LINES = 2000


@dataclass(frozen=True, slots=True)
class Line:
    """One line: `what` is its kind in one word, `level` that of a notice, else ''."""

    number: int
    utc: float
    sim_s: float
    what: str
    text: str
    level: str = ""
    by: str = ""


class Timeline:
    """A listener that keeps what is for people; the oldest lines go when there are too many."""

    def __init__(self, pack: Pack, wall: Callable[[], float] = time.time) -> None:
        """Nothing was said yet.

        Args:
            pack: has the titles.
            wall: seconds since 1970.
        """
        self.lines: deque[Line] = deque(maxlen=MOST_LINES)
        self.count = 0
        self._wall = wall
        self._phases = {phase.id: phase.title for phase in pack.phases}
        self._gates = {gate.id: gate.title for gate in pack.gates}
        self._calls = {call.id: call.title for call in pack.calls.values()}

    def __call__(self, told: Told) -> None:
        """Take one entry or note."""
        said = self._said(told)
        if said is None:
            return
        self.count += 1
        what, text, level, by = said
        self.lines.append(Line(self.count, self._wall(), told.sim_s, what, text, level, by))

    def _said(self, told: Told) -> tuple[str, str, str, str] | None:
        """Kind, text, level and by whom; None for what is not for people."""
        match told:
            case Notice():
                return "notice", told.sentence, str(told.level), told.seat
            case PhaseEntered():
                return "phase", _title(self._phases, told.phase), "", ""
            case GateCued():
                return (
                    "gate",
                    f"{_title(self._gates, told.gate)}: {_count(told.open_items)} at the cue",
                    "",
                    "",
                )
            case GateEntered() if told.carried:
                return (
                    "gate",
                    f"{_title(self._gates, told.gate)}: entered with {_count(told.carried)}",
                    "",
                    "",
                )
            case CallEntered() | CallRetracted() | PapersAmended():
                return self._asked(told)
            case MonitorsReset() if told.epoch:
                return "reset", "the simulator's clock jumped back; all is judged anew", "", ""
            case Remarked():
                return "remark", told.text, "", told.by
            case SessionNoted():
                return "session", f"{told.change}{f': {told.text}' if told.text else ''}", "", told.by
        return None

    def _asked(self, told: CallEntered | CallRetracted | PapersAmended) -> tuple[str, str, str, str]:
        """What somebody has entered, taken back or amended."""
        if isinstance(told, PapersAmended):
            return "papers", ", ".join(name.removeprefix("trip.") for name in told.names), "", told.by
        back = ": taken back" if isinstance(told, CallRetracted) else ""
        return "call", f"{_title(self._calls, told.call)}{back}", "", told.by


def _title(titles: Mapping[str, str], name: str) -> str:
    return titles.get(name, name)


def _count(items: int) -> str:
    return f"{items} open" if items else "nothing open"
