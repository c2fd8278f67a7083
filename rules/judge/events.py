"""What the core says: every step of the judging, as one kind of entry each.

Others read these in recordings and messages: `ENTRY_KINDS` and the `name=` of each field say what stands there, whatever
classes and attributes are called.

Takes: nothing.  Gives: the frozen types that the record, the screens and the notifiers read.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import TypeAlias

import msgspec

from rules.packs.model import FindingKind, Level, OooiMoment, TraceLimit
from rules.signals.model import Value


class Verdict(StrEnum):
    """Whether an expectation is so."""

    MET = "met"
    UNMET = "unmet"
    UNKNOWN = "unknown"


class ItemStatus(StrEnum):
    """Where an item stands in its life."""

    OPEN = "open"
    MET = "met"
    LOST = "lost"
    CONFIRMED = "confirmed"
    WAIVED = "waived"
    NO_DATA = "no data"


class PhaseEntered(msgspec.Struct, frozen=True):
    """The flight went from one phase to another ('' where nothing came before)."""

    sim_s: float = msgspec.field(name="sim_s")
    phase: str = msgspec.field(name="phase")
    previous_phase: str = msgspec.field(name="previous_phase")


class GateCued(msgspec.Struct, frozen=True):
    """The crew is about to go; `open_items` is how many needs are not met."""

    sim_s: float = msgspec.field(name="sim_s")
    gate: str = msgspec.field(name="gate")
    open_items: int = msgspec.field(name="open_items")


class GateEntered(msgspec.Struct, frozen=True):
    """They went; `carried` findings went along."""

    sim_s: float = msgspec.field(name="sim_s")
    gate: str = msgspec.field(name="gate")
    carried: int = msgspec.field(name="carried")


class VerdictChanged(msgspec.Struct, frozen=True):
    """An item's or watch's verdict and life changed; the sentence says why."""

    sim_s: float = msgspec.field(name="sim_s")
    item: str = msgspec.field(name="item")
    verdict: Verdict = msgspec.field(name="verdict")
    status: ItemStatus = msgspec.field(name="status")
    sentence: str = msgspec.field(name="sentence")
    actual: str = msgspec.field(name="actual")
    wanted: str = msgspec.field(name="wanted")


class Finding(msgspec.Struct, frozen=True):
    """An error on the record.  `number` counts from 1 in a session and names it.

    `lead_s` is the time from its opening to the entry of its gate, None while that has not come.
    `carried` is true where it was still open at the entry.  `closed_s` is None while open.
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


class FindingOpened(msgspec.Struct, frozen=True):
    """A finding came on the record."""

    sim_s: float = msgspec.field(name="sim_s")
    finding: Finding = msgspec.field(name="finding")


class FindingChanged(msgspec.Struct, frozen=True):
    """A finding was mended, carried into the phase, or got its lead time; it stands here whole."""

    sim_s: float = msgspec.field(name="sim_s")
    finding: Finding = msgspec.field(name="finding")


class Notice(msgspec.Struct, frozen=True):
    """What is told to the crew now.  `repeats` counts earlier tellings of the same; `finding` is its number, 0 for none."""

    sim_s: float = msgspec.field(name="sim_s")
    level: Level = msgspec.field(name="level")
    seat: str = msgspec.field(name="seat")
    item: str = msgspec.field(name="item")
    gate: str = msgspec.field(name="gate")
    sentence: str = msgspec.field(name="sentence")
    repeats: int = msgspec.field(default=0, name="repeats")
    finding: int = msgspec.field(default=0, name="finding")


class CallEntered(msgspec.Struct, frozen=True):
    """Somebody said something that no signal shows."""

    sim_s: float = msgspec.field(name="sim_s")
    call: str = msgspec.field(name="call")
    by: str = msgspec.field(name="by")


class CallUndone(msgspec.Struct, frozen=True):
    """A call was taken back; `called_s` is when it had been entered, `by` who took it back."""

    sim_s: float = msgspec.field(name="sim_s")
    call: str = msgspec.field(name="call")
    by: str = msgspec.field(name="by")
    called_s: float = msgspec.field(name="called_s")


class TripUpdated(msgspec.Struct, frozen=True):
    """The trip sheet was amended in these values ("trip.v1"), and by whom."""

    sim_s: float = msgspec.field(name="sim_s")
    names: tuple[str, ...] = msgspec.field(name="names")
    by: str = msgspec.field(default="", name="by")


class MonitorsReset(msgspec.Struct, frozen=True):
    """The simulator's clock jumped back: monitors begin anew."""

    sim_s: float = msgspec.field(name="sim_s")
    epoch: int = msgspec.field(name="epoch")


class Callout(msgspec.Struct, frozen=True):
    """What is said aloud at this moment of the flight; `id` is the callout's in the pack."""

    sim_s: float = msgspec.field(name="sim_s")
    id: str = msgspec.field(name="id")
    text: str = msgspec.field(name="text")


class FlightTimeRecorded(msgspec.Struct, frozen=True):
    """The aeroplane is out, off, on or in; a later one of the same moment and sector replaces it.

    `sector` counts the flights of the session from 1; `at_s` is when it became so, `utc_s` what the aeroplane's clock said
    then, in seconds of the day, None without one.  `block_s` and `flight_s` come with the last moment, None where one of
    the others was not seen.
    """

    sim_s: float = msgspec.field(name="sim_s")
    moment: OooiMoment = msgspec.field(name="moment")
    sector: int = msgspec.field(name="sector")
    at_s: float = msgspec.field(name="at_s")
    utc_s: float | None = msgspec.field(name="utc_s")
    block_s: float | None = msgspec.field(default=None, name="block_s")
    flight_s: float | None = msgspec.field(default=None, name="flight_s")


class TraceEnd(StrEnum):
    """How a strip ended."""

    ENDED = "ended"
    MAX_DURATION = "longest"
    RESET = "reset"


class TraceColumn(msgspec.Struct, frozen=True):
    """One signal of a strip; a value is None where there was none that could be believed."""

    signal: str = msgspec.field(name="signal")
    label: str = msgspec.field(name="label")
    unit: str = msgspec.field(name="unit")
    values: tuple[Value | None, ...] = msgspec.field(name="values")


class TraceMarkTime(msgspec.Struct, frozen=True):
    """When a mark of a strip first was so."""

    sim_s: float = msgspec.field(name="sim_s")
    label: str = msgspec.field(name="label")


class TraceRecorded(msgspec.Struct, frozen=True):
    """Quantities as they went over a stretch of flight, as evidence.

    `sim_s` is when it was kept: `ended_s`, or the new clock's time where that jumped back.  Each column has one value
    for each of `times_s`.  `findings` are the numbers of those that opened in it and that it is about.
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
    | TripUpdated
    | MonitorsReset
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
    TripUpdated: "trip/updated",
    MonitorsReset: "monitors/reset",
    Callout: "callout",
    FlightTimeRecorded: "flight/time",
    TraceRecorded: "trace/recorded",
}
"""What each kind of entry is called outside: in recordings, messages and topics, whatever its class is called."""
