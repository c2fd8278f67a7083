"""Writes a change of a session as a text for screens, and as the columns of a table, from which it can be read back.

Takes: changes of a session, the titles of seats.  Gives: texts; `ChangeColumns`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import msgspec

from bridge.session.session_events import (
    CHANGE_KINDS,
    CourseChanged,
    DiskNearlyFull,
    RecordingResumed,
    RecordingStopped,
    SeatAssigned,
    SessionChange,
    SessionEnded,
    SessionPaused,
    SessionRenamed,
    SessionResumed,
    SessionStarted,
    StoreReachable,
    StoreUnreachable,
    VoiceMuted,
    VoiceUnmuted,
)

NOBODY = "nobody"
"""The text for a seat without a person."""

_TITLES: Mapping[type[SessionChange], str] = {
    SessionStarted: "started",
    SessionRenamed: "renamed",
    CourseChanged: "course",
    SeatAssigned: "seat assigned",
    SessionPaused: "paused",
    SessionResumed: "resumed",
    SessionEnded: "ended",
    VoiceMuted: "muted",
    VoiceUnmuted: "unmuted",
    DiskNearlyFull: "disk nearly full",
    RecordingStopped: "recording stopped",
    RecordingResumed: "recording resumed",
    StoreUnreachable: "store unreachable",
    StoreReachable: "store reachable",
}
_TEXT_FIELDS: Mapping[type[SessionChange], str] = {
    SessionStarted: "name",
    SessionRenamed: "name",
    CourseChanged: "course",
    SeatAssigned: "person",
    SessionPaused: "reason",
    SessionResumed: "reason",
    SessionEnded: "reason",
    VoiceMuted: "reason",
    VoiceUnmuted: "reason",
    DiskNearlyFull: "problem",
    RecordingStopped: "problem",
    StoreUnreachable: "problem",
}
"""The field of each type that the column `text` contains."""
_TYPES: Mapping[str, type[SessionChange]] = {kind: change for change, kind in CHANGE_KINDS.items()}


class ChangeColumns(NamedTuple):
    """A change as columns: its kind, a seat, a name, course, person, reason or problem, and who requested it.

    What a change does not have is ''; so is the text of an emptied course or seat.
    """

    change: str
    seat: str
    text: str
    by: str


def change_text(change: SessionChange, seats: Mapping[str, str]) -> str:
    """Describe a change.

    Args:
        change: the change.
        seats: the titles of seats, by their ids.
    """
    title, text = _TITLES[type(change)], change_columns(change).text
    match change:
        case SeatAssigned(seat=seat, person=person):
            return f"{title}: {seats.get(seat, seat)}: {person or NOBODY}"
        case CourseChanged(course=""):
            return "no course"
    return f"{title}: {text}" if text else title


def change_columns(change: SessionChange) -> ChangeColumns:
    """Return a change as columns."""
    fields: dict[str, str | None] = msgspec.to_builtins(change)
    text = fields.get(_TEXT_FIELDS.get(type(change), ""))
    return ChangeColumns(
        CHANGE_KINDS[type(change)], fields.get("seat") or "", text or "", fields.get("by") or ""
    )


def change_from_columns(columns: ChangeColumns, sim_s: float, utc: float) -> SessionChange:
    """Read a change back from its columns.

    Raises:
        KeyError: There is no such kind.
    """
    kind = _TYPES[columns.change]
    text: str | None = columns.text
    if kind is SeatAssigned:
        text = columns.text or None
    fields: dict[str, Any] = {"sim_s": sim_s, "utc": utc, "seat": columns.seat, "by": columns.by}
    return msgspec.convert({**fields, _TEXT_FIELDS.get(kind, ""): text}, kind)
