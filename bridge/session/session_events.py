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

    STARTED = "started"
    NAMED = "named"
    SEAT_ASSIGNED = "seat assigned"
    PAUSED = "paused"
    RESUMED = "resumed"
    ENDED = "ended"
    MUTED = "muted"
    UNMUTED = "unmuted"
    COURSE_SET = "course"
    DISK_NEARLY_FULL = "disk nearly full"
    RECORDING_STOPPED = "recording stopped"
    STORE_UNREACHABLE = "store unreachable"
    STORE_REACHABLE = "store reachable"


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

KINDS: Mapping[type, str] = {**ENTRY_KINDS, SessionChanged: "session/changed", RemarkAdded: "remark"}
"""What each kind of entry and note is called outside, whatever its class is called."""

KIND_MEANINGS: Mapping[str, str] = {
    "phase/entered": "The flight entered a phase.",
    "gate/cued": "The crew is ready to go: the cue of a gate became true; with the number of open items.",
    "gate/entered": "The gate was entered; with the number of findings that were carried into the phase.",
    "verdict/changed": "The verdict or status of an item or watch changed, with its sentence; by the hundred.",
    "finding/opened": "A finding was opened; `finding` is complete.",
    "finding/changed": "A finding was corrected, carried into the phase, or got its lead time; `finding` is complete.",
    "notice": "A notice to the crew, now.",
    "call/entered": "A call was entered.",
    "call/undone": "A call was undone.",
    "trip/updated": "Values of the trip sheet were changed in flight.",
    "monitors/reset": "The simulator's clock jumped back; judging starts again.",
    "callout": "A callout at this moment of the flight.",
    "flight/time": "An out, off, on or in time of the flight.",
    "trace/recorded": "A finished trace: quantities over a stretch of flight; large.",
    KINDS[SessionChanged]: (
        "The session was started, renamed, paused, resumed, ended, muted or unmuted; a seat or the course was set; recording "
        "or store have a problem or work again."
    ),
    KINDS[RemarkAdded]: "A remark for the debrief.",
}
"""The meaning of each kind, for the documents."""
