"""The vocabulary: what a signal is, what a sample of it is, and what one frame carries.

Takes: nothing.  Gives: the frozen types that every other module speaks in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple, TypeAlias

Value: TypeAlias = float | str
"""A number in the signal's own unit, or the word of a switch, choice or text."""


class SignalKind(StrEnum):
    """What sort of thing a signal measures, and so how it compares."""

    SWITCH = "switch"  # two words
    CHOICE = "choice"  # three words or more
    QUANTITY = "quantity"  # a number with a unit
    ANGLE = "angle"  # a number on the circle, 0 to 360 deg
    TEXT = "text"  # short free text
    COUNT = "count"  # a whole number without a unit


class Quality(StrEnum):
    """How far a sample may be believed.  Only FRESH can make a condition met."""

    FRESH = "fresh"
    STALE = "stale"  # older than the signal may be
    INVALID = "invalid"  # the sender or the range says that it is not to be used
    ABSENT = "absent"  # never seen


@dataclass(frozen=True, slots=True)
class Signal:
    """One named, typed quantity of the aeroplane.

    `words` holds the enumerators of a switch (two, the resting one first) or choice; `unit` is set
    for quantity and angle; `low` and `high` bound quantity, angle and count in that unit;
    `max_age_s` is how old a sample may be, in seconds at arrival, 0 for "does not age" (papers);
    `longest` is the longest text.  `label` is the name as a pilot says it, `chapter` the ATA chapter.
    """

    name: str
    kind: SignalKind
    chapter: int
    label: str
    meaning: str
    unit: str = ""
    low: float = 0.0
    high: float = 0.0
    words: tuple[str, ...] = ()
    max_length: int = 0
    max_age_s: float = 3.0

    @property
    def is_numeric(self) -> bool:
        """True where the value is a number."""
        return self.kind in (SignalKind.QUANTITY, SignalKind.ANGLE, SignalKind.COUNT)


class Sample(NamedTuple):
    """One signal's value at one time, with its quality.

    A tuple, because some thirty of them are made for every frame.  `value` is None unless FRESH,
    except that STALE keeps the last value, for the reason sentence.
    """

    name: str
    value: Value | None
    quality: Quality
    sim_s: float


@dataclass(frozen=True, slots=True)
class Frame:
    """What one datagram or message said, after mapping.

    `carried` names every signal that it had a say on, changed or not (it renews their age);
    `changes` has the samples that differ from what this link said before.  `epoch` goes up
    when the simulator's clock jumps back.  `sim_s` is the simulator's clock, `recv_s` the
    monotonic clock at arrival; the two are never mixed.  `calls` names the calls that this link
    had not told before: a wire field `call.NAME` holds the simulator's time at which it was made,
    repeated in every frame so that loss does not lose it; a new time is a new call.
    """

    link: str
    sim_s: float
    recv_s: float
    epoch: int
    carried: Sequence[str]
    changes: Sequence[Sample]
    calls: Sequence[str] = ()
