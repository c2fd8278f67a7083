"""Defines the events of a session that the judge does not publish: changes of the session, its data, and remarks.

Recordings, messages and the store use `KINDS` and the `name=` of each field, so that renaming a class or an attribute
does not change them.

Takes: nothing.  Gives: the types of these events, and `KINDS` with the names of all kinds of events.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TypeAlias

import msgspec

from rules.judge.events import ENTRY_KINDS, JudgeEvent


class SessionChange(msgspec.Struct, frozen=True):
    """A change of the session, or a problem of its recording or store; `utc` is seconds since 1970."""

    sim_s: float = msgspec.field(name="sim_s")
    utc: float = msgspec.field(name="utc")


class SessionStarted(SessionChange, frozen=True):
    """The session started, with this name."""

    name: str = msgspec.field(name="name")
    by: str = msgspec.field(default="", name="by")


class SessionRenamed(SessionChange, frozen=True):
    """The session has another name."""

    name: str = msgspec.field(name="name")
    by: str = msgspec.field(default="", name="by")


class CourseChanged(SessionChange, frozen=True):
    """The session belongs to another course; `course` is empty for none."""

    course: str = msgspec.field(name="course")
    by: str = msgspec.field(default="", name="by")


class SeatAssigned(SessionChange, frozen=True):
    """A seat was assigned to a person; `person` is null for an empty seat."""

    seat: str = msgspec.field(name="seat")
    person: str | None = msgspec.field(name="person")
    by: str = msgspec.field(default="", name="by")


class RequestedChange(SessionChange, frozen=True):
    """A change made by request, with the reason."""

    reason: str = msgspec.field(default="", name="reason")
    by: str = msgspec.field(default="", name="by")


class SessionPaused(RequestedChange, frozen=True):
    """Judging was paused."""


class SessionResumed(RequestedChange, frozen=True):
    """Judging was resumed."""


class SessionEnded(RequestedChange, frozen=True):
    """The session ended."""


class VoiceMuted(RequestedChange, frozen=True):
    """The voice was muted."""


class VoiceUnmuted(RequestedChange, frozen=True):
    """The voice was unmuted."""


class ProblemReported(SessionChange, frozen=True):
    """A problem of recording or storing."""

    problem: str = msgspec.field(name="problem")


class DiskNearlyFull(ProblemReported, frozen=True):
    """The disk of the recordings is nearly full."""


class RecordingStopped(ProblemReported, frozen=True):
    """The session is not recorded any more."""


class RecordingResumed(SessionChange, frozen=True):
    """The session is recorded again."""


class StoreUnreachable(ProblemReported, frozen=True):
    """Events cannot be stored now; they wait."""


class StoreReachable(SessionChange, frozen=True):
    """Events are stored again."""


class RemarkAdded(msgspec.Struct, frozen=True):
    """A remark for the debrief; `utc` is seconds since 1970."""

    sim_s: float = msgspec.field(name="sim_s")
    utc: float = msgspec.field(name="utc")
    text: str = msgspec.field(name="text")
    by: str = msgspec.field(default="", name="by")


SessionEvent: TypeAlias = JudgeEvent | SessionChange | RemarkAdded

CHANGE_KINDS: Mapping[type[SessionChange], str] = {
    SessionStarted: "session/started",
    SessionRenamed: "session/renamed",
    CourseChanged: "session/course_changed",
    SeatAssigned: "session/seat_assigned",
    SessionPaused: "session/paused",
    SessionResumed: "session/resumed",
    SessionEnded: "session/ended",
    VoiceMuted: "session/voice_muted",
    VoiceUnmuted: "session/voice_unmuted",
    DiskNearlyFull: "recording/disk_nearly_full",
    RecordingStopped: "recording/stopped",
    RecordingResumed: "recording/resumed",
    StoreUnreachable: "store/unreachable",
    StoreReachable: "store/reachable",
}
KINDS: Mapping[type, str] = {**ENTRY_KINDS, **CHANGE_KINDS, RemarkAdded: "remark"}
"""The name of each kind of event in recordings and messages, independent of the name of its class."""

PERSISTENCE_PROBLEMS = (
    DiskNearlyFull,
    RecordingStopped,
    RecordingResumed,
    StoreUnreachable,
    StoreReachable,
)
"""Problems of recording and storing, and their end."""
NOT_FROM_INPUTS = (SessionStarted, *PERSISTENCE_PROBLEMS)
"""Events that no input of the session causes; replay comparison leaves them out."""
