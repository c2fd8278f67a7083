"""The flight as lines that a person reads, kept in memory within a bound.

Takes: entries and notes, as a listener.  Gives: `Line`s in their order, each with the time of the simulator and of the day.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from bridge.session.session_events import RemarkAdded, SessionChanged, SessionEvent
from rules.judge.events import (
    CallEntered,
    CallUndone,
    GateCued,
    GateEntered,
    MonitorsReset,
    Notice,
    PhaseEntered,
    TripUpdated,
)
from rules.packs.model import Pack

MAX_ENTRIES = 2000


@dataclass(frozen=True, slots=True)
class TimelineEntry:
    """One line: `what` is its kind in one word, `level` that of a notice, else ''."""

    number: int
    utc: float
    sim_s: float
    kind: str
    text: str
    level: str = ""
    by: str = ""


class Timeline:
    """A listener that keeps what is for people; the oldest lines go when there are too many."""

    def __init__(self, pack: Pack, wall_clock: Callable[[], float] = time.time) -> None:
        """Nothing was said yet.

        Args:
            pack: has the titles.
            wall_clock: seconds since 1970.
        """
        self.entries: deque[TimelineEntry] = deque(maxlen=MAX_ENTRIES)
        self.total = 0
        self._wall_clock = wall_clock
        self._phases = {phase.id: phase.title for phase in pack.phases}
        self._gates = {gate.id: gate.title for gate in pack.gates}
        self._calls = {call.id: call.title for call in pack.calls.values()}

    def __call__(self, event: SessionEvent) -> None:
        """Take one entry or note."""
        said = self._entry_fields(event)
        if said is None:
            return
        self.total += 1
        what, text, level, by = said
        self.entries.append(TimelineEntry(self.total, self._wall_clock(), event.sim_s, what, text, level, by))

    def _entry_fields(self, event: SessionEvent) -> tuple[str, str, str, str] | None:
        """Kind, text, level and by whom; None for what is not for people."""
        match event:
            case Notice():
                return "notice", event.sentence, str(event.level), event.seat
            case PhaseEntered():
                return "phase", _title_or_id(self._phases, event.phase), "", ""
            case GateCued():
                return (
                    "gate",
                    f"{_title_or_id(self._gates, event.gate)}: {_open_text(event.open_items)} at the cue",
                    "",
                    "",
                )
            case GateEntered() if event.carried:
                return (
                    "gate",
                    f"{_title_or_id(self._gates, event.gate)}: entered with {_open_text(event.carried)}",
                    "",
                    "",
                )
            case CallEntered() | CallUndone() | TripUpdated():
                return self._request_fields(event)
            case MonitorsReset() if event.epoch:
                return "reset", "the simulator's clock jumped back; all is judged anew", "", ""
            case RemarkAdded():
                return "remark", event.text, "", event.by
            case SessionChanged():
                return "session", f"{event.change}{f': {event.text}' if event.text else ''}", "", event.by
        return None

    def _request_fields(self, event: CallEntered | CallUndone | TripUpdated) -> tuple[str, str, str, str]:
        """What somebody has entered, taken back or amended."""
        if isinstance(event, TripUpdated):
            return "trip_sheet", ", ".join(name.removeprefix("trip.") for name in event.names), "", event.by
        back = ": taken back" if isinstance(event, CallUndone) else ""
        return "call", f"{_title_or_id(self._calls, event.call)}{back}", "", event.by


def _title_or_id(titles: Mapping[str, str], name: str) -> str:
    return titles.get(name, name)


def _open_text(items: int) -> str:
    return f"{items} open" if items else "nothing open"
