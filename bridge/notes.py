"""What a session says of itself beside what the core says: who began it, who sits where, what somebody remarked.

Takes: nothing.  Gives: the frozen types that the record and the screens read along with the core's entries.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

from rules.judge.entries import Entry


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


@dataclass(frozen=True, slots=True)
class SessionNoted:
    """Something happened to the session; `utc` is seconds since 1970, `text` says what of it is new."""

    sim_s: float
    utc: float
    change: Change
    text: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class Remarked:
    """Somebody wrote a remark for the debrief."""

    sim_s: float
    utc: float
    text: str
    by: str = ""


Note: TypeAlias = SessionNoted | Remarked
Told: TypeAlias = Entry | Note
