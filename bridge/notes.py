"""What a session says of itself beside what the core says: who began it, who sits where, what somebody remarked.

Takes: nothing.  Gives: the frozen types that the record and the screens read along with the core's entries.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import TypeAlias

import msgspec

from rules.judge.entries import ENTRY_KINDS, Entry


class Change(StrEnum):
    """What happened to a session."""

    BEGUN = "begun"
    NAMED = "named"
    SEATED = "seated"
    PAUSED = "paused"
    RESUMED = "resumed"
    ENDED = "ended"
    SILENCED = "silenced"
    HEARD = "heard again"
    COURSE = "course"
    NEARLY_FULL = "disk nearly full"
    UNRECORDED = "no longer recorded"
    UNSTORED = "not stored now"
    STORED = "stored again"


OF_KEEPING = (Change.BEGUN, Change.NEARLY_FULL, Change.UNRECORDED, Change.UNSTORED, Change.STORED)
"""What no input of the session brings about: it was begun, or what keeps it was in trouble."""


class SessionNoted(msgspec.Struct, frozen=True):
    """Something happened to the session; `utc` is seconds since 1970, `text` says what of it is new."""

    sim_s: float = msgspec.field(name="sim_s")
    utc: float = msgspec.field(name="utc")
    change: Change = msgspec.field(name="change")
    text: str = msgspec.field(default="", name="text")
    by: str = msgspec.field(default="", name="by")


class Remarked(msgspec.Struct, frozen=True):
    """Somebody wrote a remark for the debrief."""

    sim_s: float = msgspec.field(name="sim_s")
    utc: float = msgspec.field(name="utc")
    text: str = msgspec.field(name="text")
    by: str = msgspec.field(default="", name="by")


Note: TypeAlias = SessionNoted | Remarked
Told: TypeAlias = Entry | Note

KINDS: Mapping[type, str] = {**ENTRY_KINDS, SessionNoted: "session/noted", Remarked: "remarked"}
"""What each kind of entry and note is called outside, whatever its class is called."""
