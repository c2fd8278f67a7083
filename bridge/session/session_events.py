"""What a session says of itself beside what the core says: who began it, who sits where, what somebody remarked.

Takes: nothing.  Gives: the frozen types that the record and the screens read along with the core's entries.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import TypeAlias

import msgspec

from rules.judge.events import ENTRY_KINDS, JudgeEvent


class SessionChangeKind(StrEnum):
    """What happened to a session."""

    STARTED = "begun"
    NAMED = "named"
    SEAT_ASSIGNED = "seated"
    PAUSED = "paused"
    RESUMED = "resumed"
    ENDED = "ended"
    MUTED = "silenced"
    UNMUTED = "heard again"
    COURSE_SET = "course"
    DISK_NEARLY_FULL = "disk nearly full"
    RECORDING_STOPPED = "no longer recorded"
    STORE_UNREACHABLE = "not stored now"
    STORE_REACHABLE = "stored again"


NOT_FROM_INPUTS = (
    SessionChangeKind.STARTED,
    SessionChangeKind.DISK_NEARLY_FULL,
    SessionChangeKind.RECORDING_STOPPED,
    SessionChangeKind.STORE_UNREACHABLE,
    SessionChangeKind.STORE_REACHABLE,
)
"""What no input of the session brings about: it was begun, or what keeps it was in trouble."""


class SessionChanged(msgspec.Struct, frozen=True):
    """Something happened to the session; `utc` is seconds since 1970, `text` says what of it is new."""

    sim_s: float = msgspec.field(name="sim_s")
    utc: float = msgspec.field(name="utc")
    change: SessionChangeKind = msgspec.field(name="change")
    text: str = msgspec.field(default="", name="text")
    by: str = msgspec.field(default="", name="by")


class RemarkAdded(msgspec.Struct, frozen=True):
    """Somebody wrote a remark for the debrief."""

    sim_s: float = msgspec.field(name="sim_s")
    utc: float = msgspec.field(name="utc")
    text: str = msgspec.field(name="text")
    by: str = msgspec.field(default="", name="by")


BridgeEvent: TypeAlias = SessionChanged | RemarkAdded
SessionEvent: TypeAlias = JudgeEvent | BridgeEvent

KINDS: Mapping[type, str] = {**ENTRY_KINDS, SessionChanged: "session/noted", RemarkAdded: "remarked"}
"""What each kind of entry and note is called outside, whatever its class is called."""
