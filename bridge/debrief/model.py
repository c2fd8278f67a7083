"""Data types of a debrief: everything that its report, plots and tables show about one session.

Times called `at_s`, `from_s`, `to_s` are on the session's own axis: the simulator's clock, continued without a step where
that clock jumped back.

Takes: nothing.  Gives: frozen types.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from bridge.session.gate_stats import GatePassage
from bridge.session.session_events import RemarkAdded, SessionChange
from bridge.session.threat_error import ErrorClass, management_text
from rules.judge.events import Finding, FlightTimeRecorded, ItemStatus, Notice, TraceRecorded
from rules.packs.condition_facts import ConditionLimit
from rules.packs.model import OooiMoment
from rules.signals.model import Value

SESSION_RUNS = "The session still runs. Later data is missing."
"""The fault of a debrief that is made before the end of its session."""


@dataclass(frozen=True, slots=True)
class DataGap:
    """A time for which data were missing; `sim_s` is the simulator's clock at its start.

    `records` is how many records are missing, None where that is not known.
    """

    from_s: float
    to_s: float
    sim_s: float
    records: int | None = None

    @property
    def missing_s(self) -> float:
        """Length in seconds."""
        return self.to_s - self.from_s


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
    """A time interval in which the status of an item did not change."""

    from_s: float
    to_s: float
    status: ItemStatus


@dataclass(frozen=True, slots=True)
class ItemHistory:
    """The status of one flow item over the session, with the numbers of its findings; `intervals` is empty if it was never known."""

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
    """The samples of one signal: a value is valid until the next one; None means unknown.

    `words` are the enumerators in their order, empty for a number.
    """

    signal: str
    label: str
    unit: str
    words: tuple[str, ...]
    times_s: tuple[float, ...]
    values: tuple[Value | None, ...]


@dataclass(frozen=True, slots=True)
class Evidence:
    """The signals around a finding with their limits; `omitted_labels` are the labels of signals for which there is no room.

    `gaps` are the times within it for which data are missing: they did not arrive, or were not recorded.
    """

    from_s: float
    to_s: float
    series: tuple[SignalSeries, ...]
    limits: tuple[ConditionLimit, ...]
    omitted_labels: tuple[str, ...] = ()
    gaps: tuple[DataGap, ...] = ()


@dataclass(frozen=True, slots=True)
class FindingDetail:
    """A finding with its class, titles, times, person and evidence; `trace_index` is the index of its trace, if any."""

    finding: Finding
    error_class: ErrorClass
    gate: str
    phase: str
    at_s: float
    closed_at_s: float | None
    utc: float
    person: str = ""
    trace_index: int | None = None
    evidence: Evidence | None = None

    @property
    def managed(self) -> str:
        """Text that says if it was corrected, and if that was before its phase began."""
        return management_text(self.finding)


@dataclass(frozen=True, slots=True)
class GateTiming:
    """A gate with its times on the session's axis."""

    passage: GatePassage
    cue_at_s: float
    entered_at_s: float | None


@dataclass(frozen=True, slots=True)
class DebriefCall:
    """A call on the session's axis; `undone_at_s` is None if it was not undone."""

    at_s: float
    utc: float
    call: str
    title: str
    by: str
    undone_at_s: float | None = None


@dataclass(frozen=True, slots=True)
class DebriefWaiver:
    """A waiver on the session's axis: `gates` are the titles of the gates that need its item.

    `to_s` is None if it was not undone; `undone_by` and `undone_reason` say who undid it, and why.
    """

    from_s: float
    utc: float
    item: str
    label: str
    gates: tuple[str, ...]
    reason: str
    by: str
    to_s: float | None = None
    undone_by: str = ""
    undone_reason: str = ""


@dataclass(frozen=True, slots=True)
class DebriefNotice:
    """A notice on the session's axis."""

    at_s: float
    utc: float
    notice: Notice


@dataclass(frozen=True, slots=True)
class DebriefTrace:
    """A trace with its beginning on the session's axis, and the gaps in its data."""

    at_s: float
    record: TraceRecorded
    gaps: tuple[DataGap, ...] = ()


@dataclass(frozen=True, slots=True)
class Calculation:
    """A value of the trip sheet or a calculated figure, with its explanation ('' for a value of the sheet)."""

    label: str
    value: str
    explanation: str


@dataclass(frozen=True, slots=True)
class DebriefData:
    """One session; `faults` name missing data, `clock_resets` counts the jumps of the simulator's clock.

    `gaps` are the times for which data were missing while the session was judged, as far as it was recorded.
    """

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
    disclaimer: str
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
    session_changes: tuple[SessionChange, ...] = ()
    flight_times: Mapping[int, Mapping[OooiMoment, FlightTimeRecorded]] = field(default_factory=dict)
    traces: tuple[DebriefTrace, ...] = ()
    trip_values: tuple[Calculation, ...] = ()
    calculations: tuple[Calculation, ...] = ()
    faults: tuple[str, ...] = ()
    gaps: tuple[DataGap, ...] = ()
    waivers: tuple[DebriefWaiver, ...] = ()
    clock_resets: int = 0
