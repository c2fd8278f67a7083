"""One session, gathered for a debrief.

Times called `at_s`, `from_s`, `to_s` are on the session's own axis: the simulator's clock where it never jumped back, and a
clock that goes on from there where it did.

Takes: nothing.  Gives: frozen types that the debrief's page, plots and tables read.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from bridge.session.gate_stats import GatePassage
from bridge.session.session_events import RemarkAdded, SessionChanged
from bridge.session.threat_error import ErrorClass
from rules.judge.events import Finding, FlightTimeRecorded, ItemStatus, Notice, TraceRecorded
from rules.packs.model import OooiMoment
from rules.signals.model import Value


@dataclass(frozen=True, slots=True)
class FlownPhase:
    """One phase as it was flown; `code` is the CAST/ICAO common taxonomy's."""

    id: str
    title: str
    code: str
    from_s: float
    to_s: float
    utc: float


@dataclass(frozen=True, slots=True)
class ItemInterval:
    """For how long an item stood as it did."""

    from_s: float
    to_s: float
    life: ItemStatus


@dataclass(frozen=True, slots=True)
class ItemHistory:
    """One item of a flow over the session."""

    item: str
    label: str
    flow: str
    flow_title: str
    phase: str
    seat: str
    intervals: tuple[ItemInterval, ...]
    findings: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SignalSeries:
    """One signal as it went: a value stands until the next; None where none could be believed.

    `words` are the enumerators in their order, empty for a number.
    """

    signal: str
    label: str
    unit: str
    words: tuple[str, ...]
    times_s: tuple[float, ...]
    values: tuple[Value | None, ...]


@dataclass(frozen=True, slots=True)
class EvidenceLimit:
    """A limit to draw beside a signal, in the signal's unit."""

    signal: str
    value: float
    label: str


@dataclass(frozen=True, slots=True)
class Evidence:
    """What the aeroplane showed around a finding; `left_out` has the labels of signals that there was no room for."""

    from_s: float
    to_s: float
    series: tuple[SignalSeries, ...]
    limits: tuple[EvidenceLimit, ...]
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FindingDetail:
    """A finding with all that is told of it; `strip` is the number of the strip that it stands in, None for none."""

    finding: Finding
    error_class: ErrorClass
    managed: str
    gate: str
    phase: str
    at_s: float
    closed_at_s: float | None
    utc: float
    person: str = ""
    trace_index: int | None = None
    evidence: Evidence | None = None


@dataclass(frozen=True, slots=True)
class GateTiming:
    """A gate with its times on the session's axis."""

    passage: GatePassage
    cue_at_s: float
    entered_at_s: float | None


@dataclass(frozen=True, slots=True)
class DebriefCall:
    """A call; `taken_back_s` is when it was taken back."""

    at_s: float
    utc: float
    call: str
    title: str
    by: str
    undone_at_s: float | None = None


@dataclass(frozen=True, slots=True)
class DebriefNotice:
    """A notice."""

    at_s: float
    utc: float
    notice: Notice


@dataclass(frozen=True, slots=True)
class DebriefTrace:
    """Quantities over a stretch of flight, which began at `at_s`."""

    at_s: float
    record: TraceRecorded


@dataclass(frozen=True, slots=True)
class Calculation:
    """One number of the papers' arithmetic: what it is, what it came to, and how."""

    label: str
    value: str
    explanation: str


@dataclass(frozen=True, slots=True)
class DebriefData:
    """One session; `faults` say what is missing and why, `jumps` how often the simulator's clock jumped back."""

    uuid: str
    name: str
    course: str
    device: str
    device_title: str
    began_utc: float
    ended_utc: float | None
    ending: str
    program: str
    pack: str
    pack_title: str
    pack_version: str
    trip_sheet_title: str
    caution: str
    seats: Mapping[str, str]
    crew: Mapping[str, str]
    from_s: float
    to_s: float
    phases: tuple[FlownPhase, ...] = ()
    item_histories: tuple[ItemHistory, ...] = ()
    findings: tuple[FindingDetail, ...] = ()
    gates: tuple[GateTiming, ...] = ()
    calls: tuple[DebriefCall, ...] = ()
    notices: tuple[DebriefNotice, ...] = ()
    remarks: tuple[RemarkAdded, ...] = ()
    session_events: tuple[SessionChanged, ...] = ()
    flight_times: Mapping[int, Mapping[OooiMoment, FlightTimeRecorded]] = field(default_factory=dict)
    traces: tuple[DebriefTrace, ...] = ()
    trip_values: tuple[Calculation, ...] = ()
    calculations: tuple[Calculation, ...] = ()
    faults: tuple[str, ...] = ()
    clock_resets: int = 0
