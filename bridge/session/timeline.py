"""The flight as lines of text, in memory, limited in number.

Takes: events, as a subscriber.  Gives: `TimelineEntry` objects in order, with simulator time and UTC.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from bridge.session.change_text import change_columns, change_text
from bridge.session.session_events import CHANGE_KINDS, RemarkAdded, SessionChange, SessionEvent
from bridge.session.waiver_text import waiver_text
from rules.judge.events import (
    CallEntered,
    CallUndone,
    DataMissing,
    GateCued,
    GateEntered,
    MonitorsReset,
    Notice,
    PhaseEntered,
    TripUpdated,
    WaiverBegun,
    WaiverUndone,
)
from rules.judge.gate_counts import counts_of, gate_text
from rules.packs.model import Pack
from rules.signals.model import TRIP_PREFIX
from rules.signals.number_format import format_missing_data

MAX_ENTRIES = 2000


@dataclass(frozen=True, slots=True)
class TimelineEntry:
    """One line; `kind` is one word, `level` that of a notice, else ''."""

    number: int
    utc: float
    sim_s: float
    kind: str
    text: str
    level: str = ""
    by: str = ""


class Timeline:
    """A subscriber that collects lines; the oldest are removed above `MAX_ENTRIES`."""

    EVENTS: tuple[type, ...] = (
        Notice,
        PhaseEntered,
        GateCued,
        GateEntered,
        CallEntered,
        CallUndone,
        WaiverBegun,
        WaiverUndone,
        TripUpdated,
        MonitorsReset,
        DataMissing,
        RemarkAdded,
        *CHANGE_KINDS,
    )
    """The types that may have a line; others have none."""

    def __init__(self, pack: Pack, wall_clock: Callable[[], float] = time.time) -> None:
        """Start empty.

        Args:
            pack: for the titles.
            wall_clock: seconds since 1970.
        """
        self.entries: deque[TimelineEntry] = deque(maxlen=MAX_ENTRIES)
        self.total = 0
        self._wall_clock = wall_clock
        self._phases = {phase.id: phase.title for phase in pack.phases}
        self._gates = {gate.id: gate.title for gate in pack.gates}
        self._seats = pack.seats
        self._calls = {call.id: call.title for call in pack.calls.values()}
        self._items = {item.id: item.label for item in pack.items.values()}

    def __call__(self, event: SessionEvent) -> None:
        """Add a line for the event if there is one."""
        fields = self._entry_fields(event)
        if fields is None:
            return
        self.total += 1
        what, text, level, by = fields
        self.entries.append(TimelineEntry(self.total, self._wall_clock(), event.sim_s, what, text, level, by))

    def _entry_fields(self, event: SessionEvent) -> tuple[str, str, str, str] | None:
        """Return kind, text, level and author; None for an event without a line."""
        match event:
            case Notice():
                return "notice", event.sentence, str(event.level), event.seat
            case PhaseEntered():
                return "phase", _title_or_id(self._phases, event.phase), "", ""
            case GateCued():
                text = f"{_title_or_id(self._gates, event.gate)} at the cue: {gate_text(counts_of(event))}"
                return "gate", text, "", ""
            case GateEntered() if event.carried or not counts_of(event).fully_judged:
                text = f"{_title_or_id(self._gates, event.gate)} entered: {gate_text(counts_of(event))}"
                return "gate", text, "", ""
            case CallEntered() | CallUndone() | WaiverBegun() | WaiverUndone() | TripUpdated():
                return self._request_fields(event)
            case MonitorsReset() if event.epoch:
                return "reset", "the simulator's clock jumped back; judging starts again", "", ""
            case DataMissing():
                return "data", format_missing_data(event.missing_s), "", ""
            case RemarkAdded():
                return "remark", event.text, "", event.by
            case SessionChange():
                return "session", change_text(event, self._seats), "", change_columns(event).by
        return None

    def _request_fields(
        self, event: CallEntered | CallUndone | WaiverBegun | WaiverUndone | TripUpdated
    ) -> tuple[str, str, str, str]:
        """Return the fields of a call, a waiver, the undo of one, or a trip update."""
        if isinstance(event, WaiverBegun | WaiverUndone):
            return "waiver", waiver_text(event, _title_or_id(self._items, event.item)), "", event.by
        if isinstance(event, TripUpdated):
            return (
                "trip_sheet",
                ", ".join(name.removeprefix(TRIP_PREFIX) for name in event.names),
                "",
                event.by,
            )
        back = ": undone" if isinstance(event, CallUndone) else ": made earlier" if event.earlier else ""
        return "call", f"{_title_or_id(self._calls, event.call)}{back}", "", event.by


def _title_or_id(titles: Mapping[str, str], name: str) -> str:
    return titles.get(name, name)
