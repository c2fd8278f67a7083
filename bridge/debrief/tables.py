"""Tables of one session, for users who want to calculate with its data.

Each table has named columns of one type each; a cell may be empty (None).  `at_s` is the session's own time axis (see
`bridge.debrief.model`), `sim_s` the simulator's clock, `utc` seconds since 1970.

Other programs read these names in files, so they are written out and do not depend on classes and attributes.

Takes: `DebriefData`.  Gives: `DebriefTable`s.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeAlias

from bridge.debrief.model import DebriefData
from bridge.session.change_text import change_columns
from rules.signals.model import Value

Cell: TypeAlias = str | float | int | bool | None
Row: TypeAlias = tuple[Cell, ...]

TEXT, NUMBER, INTEGER, BOOLEAN = "text", "number", "integer", "boolean"
"""The types of columns."""


@dataclass(frozen=True, slots=True)
class DebriefTable:
    """One table: its name, its columns with their types, and its rows."""

    name: str
    columns: dict[str, str]
    rows: list[Row]


@dataclass(frozen=True, slots=True)
class TableColumns:
    """The columns of a table with their types, and a description of the table for the documents."""

    columns: Mapping[str, str]
    description: str


_SAMPLE_COLUMNS = {"signal": TEXT, "unit": TEXT, "at_s": NUMBER, "value": NUMBER, "word": TEXT}

TABLES: Mapping[str, TableColumns] = MappingProxyType({
    "session": TableColumns(
        {
            "uuid": TEXT, "name": TEXT, "course": TEXT, "device": TEXT, "device_title": TEXT, "ending": TEXT,
            "program": TEXT, "pack": TEXT, "pack_title": TEXT, "pack_version": TEXT, "trip_sheet_title": TEXT,
            "began_utc": NUMBER, "ended_utc": NUMBER, "from_s": NUMBER, "to_s": NUMBER, "clock_resets": INTEGER,
            "faults": TEXT,
        },
        "One row; `clock_resets` counts the jumps of the simulator's clock, `faults` says which data is missing.",
    ),
    "seats": TableColumns({"seat": TEXT, "title": TEXT, "person": TEXT}, "The last person in each seat."),
    "phases": TableColumns(
        {"phase": TEXT, "title": TEXT, "code": TEXT, "from_s": NUMBER, "to_s": NUMBER, "utc": NUMBER},
        "Phases as they were flown.",
    ),
    "gates": TableColumns(
        {
            "number": INTEGER, "gate": TEXT, "title": TEXT, "phase": TEXT, "needs": INTEGER, "judged": INTEGER, "cue_at_s": NUMBER,
            "open_at_cue": INTEGER, "entered_at_s": NUMBER, "spare_s": NUMBER, "carried": INTEGER,
        },
        "Gates, each from its cue to its entry; `judged` of `needs` could be judged; `spare_s` is the time from the last item met to the entry, empty if any item "
        "was open.",
    ),
    "findings": TableColumns(
        {
            "number": INTEGER, "kind": TEXT, "item": TEXT, "label": TEXT, "gate": TEXT, "phase": TEXT, "seat": TEXT,
            "person": TEXT, "level": TEXT, "actual": TEXT, "wanted": TEXT, "sentence": TEXT, "own_sentence": TEXT, "why": TEXT,
            "error_class": TEXT, "managed": TEXT, "at_s": NUMBER, "closed_at_s": NUMBER, "sim_s": NUMBER, "utc": NUMBER,
            "lead_s": NUMBER, "carried": BOOLEAN, "waived": BOOLEAN,
        },
        "Findings; `sentence` has the general form, `own_sentence` is the pack's own, empty where it has none; `lead_s` is the time from the finding to the entry of its gate; "
        "`waived`: a waiver closed it.",
    ),
    "notices": TableColumns(
        {
            "at_s": NUMBER, "utc": NUMBER, "level": TEXT, "seat": TEXT, "item": TEXT, "gate": TEXT, "sentence": TEXT,
            "repeats": INTEGER, "finding": INTEGER,
        },
        "Notices to the crew; `finding` is the number of the finding, 0 if there is none.",
    ),
    "calls": TableColumns(
        {"at_s": NUMBER, "utc": NUMBER, "call": TEXT, "title": TEXT, "by": TEXT, "undone_at_s": NUMBER},
        "Calls; `undone_at_s` is empty if the call was not undone.",
    ),
    "waivers": TableColumns(
        {
            "from_s": NUMBER, "to_s": NUMBER, "utc": NUMBER, "item": TEXT, "label": TEXT, "gates": TEXT, "by": TEXT,
            "reason": TEXT, "undone_by": TEXT, "undone_reason": TEXT,
        },
        "Items that were waived: who, why, from when; `gates` are the gates that need the item, `by` is `trip sheet` for what was dispatched inoperative. "
        "`to_s` is empty if the waiver was not undone.",
    ),
    "remarks": TableColumns(
        {"sim_s": NUMBER, "utc": NUMBER, "change": TEXT, "seat": TEXT, "text": TEXT, "by": TEXT},
        "Remarks, whose `change` is empty, and changes of the session; `text` is the name, course, person, reason or problem.",
    ),
    "times": TableColumns(
        {
            "sector": INTEGER, "moment": TEXT, "sim_s": NUMBER, "utc_s": NUMBER, "block_s": NUMBER, "flight_s": NUMBER,
        },
        "Out, off, on and in of each sector; `utc_s` is the aeroplane's clock in seconds of the day.",
    ),
    "gaps": TableColumns(
        {"from_s": NUMBER, "to_s": NUMBER, "sim_s": NUMBER, "missing_s": NUMBER, "records": INTEGER},
        "Times for which data were missing; `sim_s` is the simulator's clock at the start; `records` is how many records are missing, empty where that is not known.",
    ),
    "flows": TableColumns(
        {
            "flow": TEXT, "phase": TEXT, "seat": TEXT, "item": TEXT, "label": TEXT, "status": TEXT, "from_s": NUMBER,
            "to_s": NUMBER,
        },
        "The status of each item of each flow over time.",
    ),
    "traces": TableColumns({"number": INTEGER, "trace": TEXT, **_SAMPLE_COLUMNS}, "The samples of each trace."),
    "marks": TableColumns(
        {"number": INTEGER, "trace": TEXT, "label": TEXT, "at_s": NUMBER}, "The events of the traces."
    ),
    "evidence": TableColumns(
        {"finding": INTEGER, **_SAMPLE_COLUMNS},
        "The signals around each finding: a value is valid until the next one, an empty one where data were missing; at most 600 samples of a signal, with the peaks.",
    ),
    "limits": TableColumns(
        {"trace": INTEGER, "finding": INTEGER, "signal": TEXT, "value": NUMBER, "label": TEXT},
        "Limits of a trace, or of the evidence of a finding; the other of the two numbers is empty.",
    ),
    "trip_sheet": TableColumns(
        {"label": TEXT, "value": TEXT, "explanation": TEXT},
        "The values of the trip sheet, then the calculated figures with their calculations.",
    ),
})  # fmt: skip
"""Every table in the order in which they are written."""


def debrief_tables(debrief: DebriefData) -> tuple[DebriefTable, ...]:
    """Every table of a session, in the order of `TABLES`."""
    return tuple(
        DebriefTable(name, dict(form.columns), list(_ROWS[name](debrief))) for name, form in TABLES.items()
    )


def _session(debrief: DebriefData) -> Iterator[Row]:
    d = debrief
    yield (
        d.uuid, d.name, d.course, d.device, d.device_title, d.ending, d.program, d.pack, d.pack_title, d.pack_version,
        d.trip_sheet_title, d.began_utc, d.ended_utc, d.from_s, d.to_s, d.clock_resets, " ".join(d.faults),
    )  # fmt: skip


def _seats(debrief: DebriefData) -> Iterator[Row]:
    for seat, title in debrief.seats.items():
        yield seat, title, debrief.crew.get(seat, "")


def _phases(debrief: DebriefData) -> Iterator[Row]:
    for phase in debrief.phases:
        yield phase.id, phase.title, phase.code, phase.from_s, phase.to_s, phase.utc


def _gates(debrief: DebriefData) -> Iterator[Row]:
    for gate in debrief.gates:
        p = gate.passage
        yield (
            p.number, p.gate, p.title, p.phase, p.needs, p.judged, gate.cue_at_s, p.open_at_cue, gate.entered_at_s, p.spare_s, p.carried,
        )  # fmt: skip


def _findings(debrief: DebriefData) -> Iterator[Row]:
    for detail in debrief.findings:
        f = detail.finding
        yield (
            f.number, str(f.kind), f.item, f.label, f.gate, f.phase, f.seat, detail.person, str(f.level), f.actual, f.wanted,
            f.sentence, f.own_sentence, f.why, str(detail.error_class), detail.managed, detail.at_s, detail.closed_at_s, f.sim_s, detail.utc,
            f.lead_s, f.carried, f.waived,
        )  # fmt: skip


def _notices(debrief: DebriefData) -> Iterator[Row]:
    for timed in debrief.notices:
        n = timed.notice
        yield (
            timed.at_s, timed.utc, str(n.level), n.seat, n.item, n.gate, n.sentence, n.repeats, n.finding,
        )  # fmt: skip


def _calls(debrief: DebriefData) -> Iterator[Row]:
    for call in debrief.calls:
        yield call.at_s, call.utc, call.call, call.title, call.by, call.undone_at_s


def _waivers(debrief: DebriefData) -> Iterator[Row]:
    for w in debrief.waivers:
        gates = "; ".join(w.gates)
        yield w.from_s, w.to_s, w.utc, w.item, w.label, gates, w.by, w.reason, w.undone_by, w.undone_reason


def _remarks(debrief: DebriefData) -> Iterator[Row]:
    for remark in debrief.remarks:
        yield remark.sim_s, remark.utc, "", "", remark.text, remark.by
    for change in debrief.session_changes:
        yield change.sim_s, change.utc, *change_columns(change)


def _flight_times(debrief: DebriefData) -> Iterator[Row]:
    for sector, times in debrief.flight_times.items():
        for moment, time in times.items():
            yield sector, str(moment), time.at_s, time.utc_s, time.block_s, time.flight_s


def _gaps(debrief: DebriefData) -> Iterator[Row]:
    for gap in debrief.gaps:
        yield gap.from_s, gap.to_s, gap.sim_s, gap.missing_s, gap.records


def _flows(debrief: DebriefData) -> Iterator[Row]:
    for item in debrief.item_histories:
        for interval in item.intervals:
            yield (
                item.flow, item.phase, item.seat, item.item, item.label, str(interval.status), interval.from_s, interval.to_s,
            )  # fmt: skip


def _traces(debrief: DebriefData) -> Iterator[Row]:
    for number, trace in enumerate(debrief.traces, start=1):
        record, shift_s = trace.record, trace.at_s - trace.record.began_s
        for column in record.columns:
            for time_s, value in zip(record.times_s, column.values, strict=True):
                yield (
                    number, record.trace, column.signal, column.unit, time_s + shift_s, *_value_cells(value),
                )  # fmt: skip


def _marks(debrief: DebriefData) -> Iterator[Row]:
    for number, trace in enumerate(debrief.traces, start=1):
        shift_s = trace.at_s - trace.record.began_s
        for mark in trace.record.marks:
            yield number, trace.record.trace, mark.label, mark.sim_s + shift_s


def _evidence(debrief: DebriefData) -> Iterator[Row]:
    for detail in debrief.findings:
        for series in detail.evidence.series if detail.evidence is not None else ():
            for time_s, value in zip(series.times_s, series.values, strict=True):
                yield detail.finding.number, series.signal, series.unit, time_s, *_value_cells(value)


def _limits(debrief: DebriefData) -> Iterator[Row]:
    for number, trace in enumerate(debrief.traces, start=1):
        for limit in trace.record.limits:
            yield number, None, limit.signal, limit.value, limit.label
    for detail in debrief.findings:
        for bound in detail.evidence.limits if detail.evidence is not None else ():
            yield None, detail.finding.number, bound.signal, bound.value, bound.label


def _trip_sheet(debrief: DebriefData) -> Iterator[Row]:
    for line in (*debrief.trip_values, *debrief.calculations):
        yield line.label, line.value, line.explanation


def _value_cells(value: Value | None) -> Iterator[Cell]:
    """A value as two cells: one for a number, one for a word."""
    yield float(value) if isinstance(value, float | int) else None
    yield value if isinstance(value, str) else None


_ROWS: Mapping[str, Callable[[DebriefData], Iterator[Row]]] = {
    "session": _session,
    "seats": _seats,
    "phases": _phases,
    "gates": _gates,
    "findings": _findings,
    "notices": _notices,
    "calls": _calls,
    "waivers": _waivers,
    "remarks": _remarks,
    "times": _flight_times,
    "gaps": _gaps,
    "flows": _flows,
    "traces": _traces,
    "marks": _marks,
    "evidence": _evidence,
    "limits": _limits,
    "trip_sheet": _trip_sheet,
}
