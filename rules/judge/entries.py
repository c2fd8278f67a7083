"""What the core says: every step of the judging, as one kind of entry each.

Takes: nothing.  Gives: the frozen types that the record, the screens and the notifiers read.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TypeAlias

from rules.packs.model import FindingKind, Level, Moment, StripLimit
from rules.signals.model import Value


class Verdict(StrEnum):
    """Whether an expectation is so."""

    MET = "met"
    UNMET = "unmet"
    UNKNOWN = "unknown"


class Life(StrEnum):
    """Where an item stands in its life."""

    OPEN = "open"
    MET = "met"
    LOST = "lost"
    CONFIRMED = "confirmed"
    EXCUSED = "excused"
    NO_DATA = "no data"


@dataclass(frozen=True, slots=True)
class PhaseEntered:
    """The flight went from one phase to another ('' where nothing came before)."""

    sim_s: float
    phase: str
    left: str


@dataclass(frozen=True, slots=True)
class GateCued:
    """The crew is about to go; `open_items` is how many needs are not met."""

    sim_s: float
    gate: str
    open_items: int


@dataclass(frozen=True, slots=True)
class GateEntered:
    """They went; `carried` findings went along."""

    sim_s: float
    gate: str
    carried: int


@dataclass(frozen=True, slots=True)
class VerdictChanged:
    """An item's or watch's verdict and life changed; the sentence says why."""

    sim_s: float
    item: str
    verdict: Verdict
    life: Life
    sentence: str
    actual: str
    wanted: str


@dataclass(frozen=True, slots=True)
class Finding:
    """An error on the record.  `number` counts from 1 in a session and names it.

    `lead_s` is the time from its opening to the entry of its gate, None while that has not come.
    `carried` is true where it was still open at the entry.  `closed_s` is None while open.
    """

    number: int
    kind: FindingKind
    item: str
    label: str
    gate: str
    phase: str
    seat: str
    level: Level
    sim_s: float
    actual: str
    wanted: str
    sentence: str
    why: str = ""
    lead_s: float | None = None
    carried: bool = False
    closed_s: float | None = None


@dataclass(frozen=True, slots=True)
class FindingOpened:
    """A finding came on the record."""

    sim_s: float
    finding: Finding


@dataclass(frozen=True, slots=True)
class FindingChanged:
    """A finding was mended, carried into the phase, or got its lead time; it stands here whole."""

    sim_s: float
    finding: Finding


@dataclass(frozen=True, slots=True)
class Notice:
    """What is told to the crew now.  `repeats` counts earlier tellings of the same; `finding` is its number, 0 for none."""

    sim_s: float
    level: Level
    seat: str
    item: str
    gate: str
    sentence: str
    repeats: int = 0
    finding: int = 0


@dataclass(frozen=True, slots=True)
class CallEntered:
    """Somebody said something that no signal shows."""

    sim_s: float
    call: str
    by: str


@dataclass(frozen=True, slots=True)
class CallRetracted:
    """A call was taken back; `called_s` is when it had been entered, `by` who took it back."""

    sim_s: float
    call: str
    by: str
    called_s: float


@dataclass(frozen=True, slots=True)
class PapersAmended:
    """The trip sheet was amended in these values ("trip.v1"), and by whom."""

    sim_s: float
    names: tuple[str, ...]
    by: str = ""


@dataclass(frozen=True, slots=True)
class MonitorsReset:
    """The simulator's clock jumped back: monitors begin anew."""

    sim_s: float
    epoch: int


@dataclass(frozen=True, slots=True)
class Callout:
    """What is said aloud at this moment of the flight; `id` is the callout's in the pack."""

    sim_s: float
    id: str
    text: str


@dataclass(frozen=True, slots=True)
class TimeNoted:
    """The aeroplane is out, off, on or in; a later one of the same moment and sector replaces it.

    `sector` counts the flights of the session from 1; `at_s` is when it became so, `utc_s` what the aeroplane's clock said
    then, in seconds of the day, None without one.  `block_s` and `flight_s` come with the last moment, None where one of
    the others was not seen.
    """

    sim_s: float
    moment: Moment
    sector: int
    at_s: float
    utc_s: float | None
    block_s: float | None = None
    flight_s: float | None = None


class StripEnd(StrEnum):
    """How a strip ended."""

    ENDED = "ended"
    LONGEST = "longest"
    RESET = "reset"


@dataclass(frozen=True, slots=True)
class StripColumn:
    """One signal of a strip; a value is None where there was none that could be believed."""

    signal: str
    label: str
    unit: str
    values: tuple[Value | None, ...]


@dataclass(frozen=True, slots=True)
class StripMoment:
    """When a mark of a strip first was so."""

    sim_s: float
    label: str


@dataclass(frozen=True, slots=True)
class StripKept:
    """Quantities as they went over a stretch of flight, as evidence.

    `sim_s` is when it was kept: `ended_s`, or the new clock's time where that jumped back.  Each column has one value
    for each of `times_s`.  `findings` are the numbers of those that opened in it and that it is about.
    """

    sim_s: float
    strip: str
    title: str
    began_s: float
    ended_s: float
    end: StripEnd
    times_s: tuple[float, ...]
    columns: tuple[StripColumn, ...]
    marks: tuple[StripMoment, ...]
    limits: tuple[StripLimit, ...]
    findings: tuple[int, ...]


Entry: TypeAlias = (
    PhaseEntered
    | GateCued
    | GateEntered
    | VerdictChanged
    | FindingOpened
    | FindingChanged
    | Notice
    | CallEntered
    | CallRetracted
    | PapersAmended
    | MonitorsReset
    | Callout
    | TimeNoted
    | StripKept
)
