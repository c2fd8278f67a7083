"""Events of the judge: one type for each kind.

Recordings and messages use `ENTRY_KINDS` and the `name=` of each field, so that renaming a class or an attribute does
not change them.

Takes: nothing.  Gives: the frozen types that recordings, screens and notifiers read.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import TypeAlias

import msgspec

from rules.packs.model import FindingKind, Level, OooiMoment, TraceLimit
from rules.signals.model import Value
from rules.words import uncapitalised

TRIP_SHEET = "trip sheet"
"""Who waives an item whose signals are dispatched inoperative."""


class Verdict(StrEnum):
    """Result of an item."""

    MET = "met"
    UNMET = "unmet"
    UNKNOWN = "unknown"


class ItemStatus(StrEnum):
    """Status of an item."""

    OPEN = "open"
    MET = "met"
    LOST = "lost"
    CONFIRMED = "confirmed"
    WAIVED = "waived"
    UNKNOWN = "unknown"
    NO_DATA = "no data"


class LeadIn(StrEnum):
    """Beginning of a notice's sentence: a gate, the kind of error, or nothing."""

    NONE = "none"
    BEFORE_GATE = "before_gate"
    STILL_OPEN = "still_open"
    PHASE_BEGUN = "phase_begun"
    CANNOT_VERIFY = "cannot_verify"
    UNDONE = "undone"
    TOO_EARLY = "too_early"
    OUT_OF_ORDER = "out_of_order"
    LATE = "late"
    SUMMARY = "summary"


LEAD_IN_TEXTS = {
    LeadIn.UNDONE: "check again",
    LeadIn.TOO_EARLY: "too early",
    LeadIn.OUT_OF_ORDER: "wrong order",
    LeadIn.LATE: "late",
}
"""What the crew hears before a reason; the register's words, such as `undone`, are for the record."""


def before_gate_text(title: str) -> str:
    """Text such as 'Before push back'; 'Before taxi' stays as it is, and 'After start' is before its flow."""
    if title.lower().startswith("before "):
        return title
    name = uncapitalised(title)
    return f"Before the {name.replace(' ', '-')} flow" if name.startswith("after ") else f"Before {name}"


def phase_begun_text(title: str) -> str:
    """Text such as 'Push back has begun'."""
    return f"{title} has begun"


class PhaseEntered(msgspec.Struct, frozen=True):
    """The flight entered a phase; `previous_phase` is '' for the first one."""

    sim_s: float = msgspec.field(name="sim_s")
    phase: str = msgspec.field(name="phase")
    previous_phase: str = msgspec.field(name="previous_phase")


class GateEvent(msgspec.Struct, frozen=True):
    """A gate was cued or entered, with the counts of its needs at that time.

    `open_items` is the number of needs that are not met, `judged` the number of those known to be met or not met, of
    `needs` that count (all but the waived ones).  `other_findings` is the number of open findings about anything else.
    """

    sim_s: float = msgspec.field(name="sim_s")
    gate: str = msgspec.field(name="gate")
    open_items: int = msgspec.field(name="open_items")
    needs: int = msgspec.field(name="needs")
    judged: int = msgspec.field(name="judged")
    other_findings: int = msgspec.field(name="other_findings")


class GateCued(GateEvent, frozen=True):
    """The cue of a gate became true; `judged` of `needs` could be judged, `open_items` of them are not met."""


class GateEntered(GateEvent, frozen=True):
    """A gate was entered; `carried` is the number of errors still open, the other counts are as at the cue."""

    carried: int = msgspec.field(name="carried")


class VerdictChanged(msgspec.Struct, frozen=True):
    """The verdict or status of an item or watch changed; the sentence says why.

    `waiver` is the reason for which an item is waived, and `by` is who waived it, as in `WaiverBegun`.  `own_sentence` is
    the pack's own sentence for the crew, '' where it has none.
    """

    sim_s: float = msgspec.field(name="sim_s")
    item: str = msgspec.field(name="item")
    verdict: Verdict = msgspec.field(name="verdict")
    status: ItemStatus = msgspec.field(name="status")
    sentence: str = msgspec.field(name="sentence")
    actual: str = msgspec.field(name="actual")
    wanted: str = msgspec.field(name="wanted")
    waiver: str = msgspec.field(default="", name="waiver")
    by: str = msgspec.field(default="", name="by")
    own_sentence: str = msgspec.field(default="", name="own_sentence")


class Finding(msgspec.Struct, frozen=True):
    """A recorded error; `number` counts from 1 within a session.

    `lead_s` is the time from opening to the entry of the gate, None before that entry.
    `carried` is true if it was still open at the entry.  `closed_s` is None while it is open.  `waived` is true if it closed
    because its item, or one that it follows, was waived; `corrected` if what it found was right again.  With neither it closed
    because its rule did not apply any more, or because nothing that was ahead needed it.  `sentence` has the general form;
    `own_sentence` is the pack's own sentence for the crew, '' where it has none.
    """

    number: int = msgspec.field(name="number")
    kind: FindingKind = msgspec.field(name="kind")
    item: str = msgspec.field(name="item")
    label: str = msgspec.field(name="label")
    gate: str = msgspec.field(name="gate")
    phase: str = msgspec.field(name="phase")
    seat: str = msgspec.field(name="seat")
    level: Level = msgspec.field(name="level")
    sim_s: float = msgspec.field(name="sim_s")
    actual: str = msgspec.field(name="actual")
    wanted: str = msgspec.field(name="wanted")
    sentence: str = msgspec.field(name="sentence")
    why: str = msgspec.field(default="", name="why")
    lead_s: float | None = msgspec.field(default=None, name="lead_s")
    carried: bool = msgspec.field(default=False, name="carried")
    closed_s: float | None = msgspec.field(default=None, name="closed_s")
    own_sentence: str = msgspec.field(default="", name="own_sentence")
    waived: bool = msgspec.field(default=False, name="waived")
    corrected: bool = msgspec.field(default=False, name="corrected")

    @property
    def is_doubt(self) -> bool:
        """True if it is no error: it says that an item could not be judged."""
        return self.kind is FindingKind.NOT_VERIFIABLE

    @property
    def crew_sentence(self) -> str:
        """Sentence that the crew gets: the pack's own, otherwise the general form."""
        return self.own_sentence or self.sentence

    @property
    def listed_sentence(self) -> str:
        """The same for a list: what is not verifiable has its item, since its reason does not name it."""
        return f"{self.label}: {self.sentence}" if self.is_doubt else self.crew_sentence


class FindingOpened(msgspec.Struct, frozen=True):
    """A finding was opened."""

    sim_s: float = msgspec.field(name="sim_s")
    finding: Finding = msgspec.field(name="finding")


class FindingChanged(msgspec.Struct, frozen=True):
    """A finding was closed, carried into the phase, or got its lead time; the event holds all of its fields."""

    sim_s: float = msgspec.field(name="sim_s")
    finding: Finding = msgspec.field(name="finding")


class Notice(msgspec.Struct, frozen=True):
    """A message to the crew; `repeats` counts earlier notices of the same finding, `finding` is 0 for none.

    `sentence` is the whole text.  It is made of `lead_in` and `reasons`: why each finding is open, several only in the
    summary after a quiet period.
    """

    sim_s: float = msgspec.field(name="sim_s")
    level: Level = msgspec.field(name="level")
    seat: str = msgspec.field(name="seat")
    item: str = msgspec.field(name="item")
    gate: str = msgspec.field(name="gate")
    sentence: str = msgspec.field(name="sentence")
    repeats: int = msgspec.field(default=0, name="repeats")
    finding: int = msgspec.field(default=0, name="finding")
    lead_in: LeadIn = msgspec.field(default=LeadIn.NONE, name="lead_in")
    reasons: tuple[str, ...] = msgspec.field(default=(), name="reasons")


class CallEntered(msgspec.Struct, frozen=True):
    """A call was entered: something spoken that no signal shows; `earlier` if it was made before the flight was joined."""

    sim_s: float = msgspec.field(name="sim_s")
    call: str = msgspec.field(name="call")
    by: str = msgspec.field(name="by")
    earlier: bool = msgspec.field(default=False, name="earlier")


class CallUndone(msgspec.Struct, frozen=True):
    """A call was undone by `by`; `called_s` is when it had been entered."""

    sim_s: float = msgspec.field(name="sim_s")
    call: str = msgspec.field(name="call")
    by: str = msgspec.field(name="by")
    called_s: float = msgspec.field(name="called_s")


class WaiverBegun(msgspec.Struct, frozen=True):
    """An item is waived from now on, for this reason; `by` is who waived it, `trip sheet` for what is dispatched inoperative."""

    sim_s: float = msgspec.field(name="sim_s")
    item: str = msgspec.field(name="item")
    reason: str = msgspec.field(name="reason")
    by: str = msgspec.field(name="by")


class WaiverUndone(msgspec.Struct, frozen=True):
    """The waiver of an item was undone by `by`; `waived_s` is when it had begun, `reason` why it was undone, or ''."""

    sim_s: float = msgspec.field(name="sim_s")
    item: str = msgspec.field(name="item")
    reason: str = msgspec.field(name="reason")
    by: str = msgspec.field(name="by")
    waived_s: float = msgspec.field(name="waived_s")


class TripUpdated(msgspec.Struct, frozen=True):
    """Values of the trip sheet changed; `names` are their signals ("trip.v1")."""

    sim_s: float = msgspec.field(name="sim_s")
    names: tuple[str, ...] = msgspec.field(name="names")
    by: str = msgspec.field(default="", name="by")


class MonitorsReset(msgspec.Struct, frozen=True):
    """The simulator clock jumped back, and the monitors were restarted."""

    sim_s: float = msgspec.field(name="sim_s")
    epoch: int = msgspec.field(name="epoch")


class DataMissing(msgspec.Struct, frozen=True):
    """Data are missing from `from_s` until now: what could have happened in that time is unknown, not an error.

    `records` is how many records are missing; None where that is not known.
    """

    sim_s: float = msgspec.field(name="sim_s")
    from_s: float = msgspec.field(name="from_s")
    records: int | None = msgspec.field(default=None, name="records")

    @property
    def missing_s(self) -> float:
        """Length of the gap in seconds."""
        return self.sim_s - self.from_s


class Callout(msgspec.Struct, frozen=True):
    """A text to be spoken at this moment; `id` is the callout's in the pack."""

    sim_s: float = msgspec.field(name="sim_s")
    id: str = msgspec.field(name="id")
    text: str = msgspec.field(name="text")


class FlightTimeRecorded(msgspec.Struct, frozen=True):
    """The aeroplane is out, off, on or in; a later event of the same moment and sector replaces it.

    `sector` counts the flights of the session from 1; `at_s` is when it became true, `utc_s` the aeroplane's clock at
    that time in seconds of the day, None without a clock.  `block_s` and `flight_s` come with the last moment, None
    where one of the other moments is missing.
    """

    sim_s: float = msgspec.field(name="sim_s")
    moment: OooiMoment = msgspec.field(name="moment")
    sector: int = msgspec.field(name="sector")
    at_s: float = msgspec.field(name="at_s")
    utc_s: float | None = msgspec.field(name="utc_s")
    block_s: float | None = msgspec.field(default=None, name="block_s")
    flight_s: float | None = msgspec.field(default=None, name="flight_s")


class TraceEnd(StrEnum):
    """Reason for which a trace ended."""

    ENDED = "ended"
    MAX_DURATION = "longest"
    RESET = "reset"


class TraceColumn(msgspec.Struct, frozen=True):
    """Values of one signal in a trace; None where no fresh value was known."""

    signal: str = msgspec.field(name="signal")
    label: str = msgspec.field(name="label")
    unit: str = msgspec.field(name="unit")
    values: tuple[Value | None, ...] = msgspec.field(name="values")


class TraceMarkTime(msgspec.Struct, frozen=True):
    """Time at which a mark of a trace first became true."""

    sim_s: float = msgspec.field(name="sim_s")
    label: str = msgspec.field(name="label")


class TraceRecorded(msgspec.Struct, frozen=True):
    """Time history of some signals over a part of the flight, as evidence.

    `sim_s` is the time of recording: `ended_s`, or the time after a jump of the clock.  Each column has one value for
    each of `times_s`.  `findings` are the numbers of the findings that opened in it and for which it is evidence.
    """

    sim_s: float = msgspec.field(name="sim_s")
    trace: str = msgspec.field(name="trace")
    title: str = msgspec.field(name="title")
    began_s: float = msgspec.field(name="began_s")
    ended_s: float = msgspec.field(name="ended_s")
    end: TraceEnd = msgspec.field(name="end")
    times_s: tuple[float, ...] = msgspec.field(name="times_s")
    columns: tuple[TraceColumn, ...] = msgspec.field(name="columns")
    marks: tuple[TraceMarkTime, ...] = msgspec.field(name="marks")
    limits: tuple[TraceLimit, ...] = msgspec.field(name="limits")
    findings: tuple[int, ...] = msgspec.field(name="findings")


JudgeEvent: TypeAlias = (
    PhaseEntered
    | GateCued
    | GateEntered
    | VerdictChanged
    | FindingOpened
    | FindingChanged
    | Notice
    | CallEntered
    | CallUndone
    | WaiverBegun
    | WaiverUndone
    | TripUpdated
    | MonitorsReset
    | DataMissing
    | Callout
    | FlightTimeRecorded
    | TraceRecorded
)

ENTRY_KINDS: Mapping[type, str] = {
    PhaseEntered: "phase/entered",
    GateCued: "gate/cued",
    GateEntered: "gate/entered",
    VerdictChanged: "verdict/changed",
    FindingOpened: "finding/opened",
    FindingChanged: "finding/changed",
    Notice: "notice",
    CallEntered: "call/entered",
    CallUndone: "call/undone",
    WaiverBegun: "waiver/begun",
    WaiverUndone: "waiver/undone",
    TripUpdated: "trip/updated",
    MonitorsReset: "monitors/reset",
    DataMissing: "data/missing",
    Callout: "callout",
    FlightTimeRecorded: "flight/time",
    TraceRecorded: "trace/recorded",
}
"""Name of each kind of event in recordings, messages and topics; it does not depend on the name of the class."""
