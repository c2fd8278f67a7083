"""Basic types: signals, samples of signals, and frames of samples.

Takes: nothing.  Gives: the frozen types that every other module uses, and `is_valid`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple, TypeAlias

from rules.signals.equality import RELATIVE_TOLERANCE

SHORTEST_GAP_S = 0.5
"""Missing data counts as a gap from this length on, in seconds: a shorter one is no more than what a sender leaves out
that sends two records a second.  Chosen by us, no source: a network that loses every twentieth record, and delivers as
many too late, has such a gap less than once in an hour at 10 Hz."""
LONGEST_BRIDGED_GAP_S = 2.0
"""Longest gap, in seconds, of which it is assumed that what was so just before and just after it did not change twice in
it.  Chosen by us, no source: no lever, door or engine of an airliner goes away and comes back in that time."""
LONGEST_STEP_S = 1.0
"""A longer silence is a stall, as far as no simulated time passed in it: only so much of it counts as age.  Shorter than every
age limit.  Chosen by us, no source."""
_CLOCK_ROUNDING_S = 1e-6

Value: TypeAlias = float | str
"""Number in the signal's own unit, or the word of a switch, choice or text."""


TRIP_PREFIX = "trip."
"""Begins the name of each value of the trip sheet."""
FIGURE_PREFIX = "figure."
"""Begins the name of each computed value."""
ESTIMATE_PREFIX = "estimate."
"""Begins the name of each estimate, in conditions."""
CALL_PREFIX = "call."
"""Begins the name of each call, in conditions and on the wire."""


class SignalKind(StrEnum):
    """Kind of a signal; it decides how values compare."""

    SWITCH = "switch"  # two words
    CHOICE = "choice"  # three words or more
    QUANTITY = "quantity"  # a number with a unit
    ANGLE = "angle"  # a number on the circle, 0 to 360 deg
    TEXT = "text"  # short free text
    COUNT = "count"  # a whole number without a unit


class Quality(StrEnum):
    """Reliability of a sample.  Only FRESH can make a condition met."""

    FRESH = "fresh"
    STALE = "stale"  # older than the signal may be
    INVALID = "invalid"  # the sender or the range says that it is not to be used
    ABSENT = "absent"  # never seen


class Band(NamedTuple):
    """Part of a quantity's range that has a name, such as a mixture of 90 to 100 %: "rich"."""

    name: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Signal:
    """Named, typed quantity of the aeroplane.

    `words` lists the words of a switch (two, the resting one first) or choice; `unit` is set
    for quantity and angle; `low` and `high` bound quantity, angle and count in that unit;
    `max_age_s` is the maximum age of a sample, in seconds at arrival, 0 for "does not age" (trip sheet);
    `max_length` is the maximum length of a text.  `label` is the name that a pilot uses, `chapter` the ATA chapter.
    `phrases` say each word of `words` as a fact ("generator 1 is not on line"), '' where label and word say it.
    `shown_step` is the step in which texts show the value, in its unit, 0 for all its digits; it is judged as it is.
    `sides` are the words for a negative and a positive value ("left", "right"), with which texts need no sign; `bands` name
    parts of the range ("rich"), of which texts need no number.
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
    shown_step: float = 0.0
    phrases: tuple[str, ...] = ()
    sides: tuple[str, ...] = ()
    bands: tuple[Band, ...] = ()

    @property
    def is_numeric(self) -> bool:
        """True where the value is a number."""
        return self.kind in (SignalKind.QUANTITY, SignalKind.ANGLE, SignalKind.COUNT)


def phrase_of(signal: Signal, word: str) -> str:
    """Give the phrase that says a word of a signal as a fact, '' where it has none."""
    return signal.phrases[signal.words.index(word)] if signal.phrases and word in signal.words else ""


def value_range(signal: Signal) -> tuple[float, float]:
    """Give the ends of a number's range, widened by the rounding tolerance."""
    # A 32-bit sender sends 100 % as 100.0000015; the ends of a range have the tolerance of `=`.
    slack = RELATIVE_TOLERANCE * max(abs(signal.low), abs(signal.high))
    return signal.low - slack, signal.high + slack


def is_valid(signal: Signal, value: object) -> bool:
    """Check that the signal can have this value: its kind, range, words or length; a number is finite."""
    if signal.is_numeric:
        if not isinstance(value, int | float) or isinstance(value, bool) or not math.isfinite(value):
            return False
        low, high = value_range(signal)
        return low <= value <= high and (signal.kind is not SignalKind.COUNT or value == int(value))
    if not isinstance(value, str):
        return False
    return len(value) <= signal.max_length if signal.kind is SignalKind.TEXT else value in signal.words


class Sample(NamedTuple):
    """Value of one signal at one time, with its quality.

    A tuple, because some thirty samples are created for every frame.  `value` is None unless FRESH,
    except that STALE has the last value, for the reason sentence.
    """

    name: str
    value: Value | None
    quality: Quality
    sim_s: float


@dataclass(frozen=True, slots=True)
class Frame:
    """Contents of one datagram or message, after mapping.

    `carried` names every signal in the message, changed or not (it renews their age);
    `changes` contains the samples that differ from this link's previous ones.  `epoch` increases
    when the simulator's clock jumps back.  `sim_s` is the simulator's clock, `recv_s` the
    monotonic clock at arrival; the two are never mixed.  `calls` names the new calls of this link: a
    wire field `call.NAME` contains the simulator's time at which it was made, repeated in every frame
    so that packet loss does not lose it; a new time is a new call.  `missing_from_s` is set where records before this
    one are known to be missing (lost on the way, dropped, not recorded): the simulator's time of the first of them; `missing_records` is how many, None
    where that is not known.
    """

    link: str
    sim_s: float
    recv_s: float
    epoch: int
    carried: Sequence[str]
    changes: Sequence[Sample]
    calls: Sequence[str] = ()
    missing_from_s: float | None = None
    missing_records: int | None = None

    @property
    def gap_start_s(self) -> float | None:
        """Start of the gap in the data that ends with this frame; None for none, or one that is too short to count."""
        start_s = self.missing_from_s
        return start_s if start_s is not None and is_gap(start_s, self.sim_s) else None


def is_gap(missing_from_s: float, sim_s: float) -> bool:
    """Check that the data missing from one time to another are a gap: long enough to hide something."""
    return sim_s - missing_from_s >= SHORTEST_GAP_S - _CLOCK_ROUNDING_S


def stalled_s(frame: Frame, last_recv_s: float, last_sim_s: float) -> float:
    """Give the length of the stall that ends with a frame: of a silence in which no simulated time passed; 0 for none.

    Args:
        frame: A frame of the same epoch.
        last_recv_s: The monotonic clock at the latest frame before it.
        last_sim_s: The simulator's clock at that frame.
    """
    if frame.gap_start_s is not None or last_recv_s == -math.inf:
        return 0.0
    return max(0.0, frame.recv_s - last_recv_s - max(LONGEST_STEP_S, frame.sim_s - last_sim_s))
