"""Defines the events of a session that the judge does not publish: changes of the session, and remarks.

Takes: nothing.  Gives: the types of these events, and `KINDS` with the names of all kinds of events.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import TypeAlias

import msgspec

from rules.judge.events import ENTRY_KINDS, JudgeEvent


class SessionChangeKind(StrEnum):
    """Kinds of changes of a session."""

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
"""Changes that no input of the session causes; replay comparison leaves them out."""


class SessionChanged(msgspec.Struct, frozen=True):
    """The session changed, or its recording or store have a problem or work again.

    `utc` is seconds since 1970; `text` is the new value (a name, a seat with its person) or the problem.
    """

    sim_s: float = msgspec.field(name="sim_s")
    utc: float = msgspec.field(name="utc")
    change: SessionChangeKind = msgspec.field(name="change")
    text: str = msgspec.field(default="", name="text")
    by: str = msgspec.field(default="", name="by")


class RemarkAdded(msgspec.Struct, frozen=True):
    """A remark for the debrief; `utc` is seconds since 1970."""

    sim_s: float = msgspec.field(name="sim_s")
    utc: float = msgspec.field(name="utc")
    text: str = msgspec.field(name="text")
    by: str = msgspec.field(default="", name="by")


BridgeEvent: TypeAlias = SessionChanged | RemarkAdded
SessionEvent: TypeAlias = JudgeEvent | BridgeEvent

KINDS: Mapping[type, str] = {**ENTRY_KINDS, SessionChanged: "session/changed", RemarkAdded: "remark"}
"""The name of each kind of event in recordings and messages, independent of the name of its class."""
