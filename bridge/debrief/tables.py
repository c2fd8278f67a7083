"""A session as tables, for those who want to reckon with it themselves.

Each table has named columns of one type each; a cell may be empty (None).  `at_s` is the session's own axis of time (see
`bridge.debrief.model`), `sim_s` the simulator's clock, `utc` seconds since 1970.

Takes: an account.  Gives: `Sheet`s.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

from bridge.debrief.model import DebriefData
from rules.signals.model import Value

Cell: TypeAlias = str | float | int | bool | None


@dataclass(frozen=True, slots=True)
class DebriefTable:
    """One table: the columns with their types (`text`, `number`, `whole`, `yes or no`), and rows."""

    name: str
    columns: dict[str, str]
    rows: list[tuple[Cell, ...]]


def debrief_tables(debrief: DebriefData) -> tuple[DebriefTable, ...]:
    """Every table of a session."""
    return (
        _session(debrief),
        _seats(debrief),
        _phases(debrief),
        _gates(debrief),
        _findings(debrief),
        _notices(debrief),
        _calls(debrief),
        _remarks(debrief),
        _flight_times(debrief),
        _flows(debrief),
        _traces(debrief),
        _marks(debrief),
        _evidence(debrief),
        _limits(debrief),
        _trip_sheet(debrief),
    )


def _session(debrief: DebriefData) -> DebriefTable:
    a = debrief
    text: dict[str, Cell] = {
        "uuid": a.uuid, "name": a.name, "course": a.course, "device": a.device, "device_title": a.device_title,
        "ending": a.ending, "program": a.program, "pack": a.pack, "pack_title": a.pack_title,
        "pack_version": a.pack_version, "papers_title": a.trip_sheet_title,
    }  # fmt: skip
    columns = dict.fromkeys(text, "text") | {
        "began_utc": "number", "ended_utc": "number", "from_s": "number", "to_s": "number", "jumps": "whole",
        "faults": "text",
    }  # fmt: skip
    row = (*text.values(), a.began_utc, a.ended_utc, a.from_s, a.to_s, a.clock_resets, " ".join(a.faults))
    return DebriefTable("session", columns, [row])


def _seats(debrief: DebriefData) -> DebriefTable:
    columns = {"seat": "text", "title": "text", "person": "text"}
    rows: list[tuple[Cell, ...]] = [
        (seat, title, debrief.crew.get(seat, "")) for seat, title in debrief.seats.items()
    ]
    return DebriefTable("seats", columns, rows)


def _phases(debrief: DebriefData) -> DebriefTable:
    columns = {
        "phase": "text",
        "title": "text",
        "code": "text",
        "from_s": "number",
        "to_s": "number",
        "utc": "number",
    }
    return DebriefTable(
        "phases", columns, [(s.id, s.title, s.code, s.from_s, s.to_s, s.utc) for s in debrief.phases]
    )


def _gates(debrief: DebriefData) -> DebriefTable:
    columns = {
        "number": "whole", "gate": "text", "title": "text", "phase": "text", "needs": "whole", "cue_at_s": "number",
        "open_at_cue": "whole", "entered_at_s": "number", "spare_s": "number", "carried": "whole",
    }  # fmt: skip
    rows: list[tuple[Cell, ...]] = []
    for gate in debrief.gates:
        p = gate.passage
        rows.append((p.number, p.gate, p.title, p.phase, p.needs, gate.cue_at_s, p.open_at_cue, gate.entered_at_s, p.spare_s, p.carried))  # fmt: skip
    return DebriefTable("gates", columns, rows)


def _findings(debrief: DebriefData) -> DebriefTable:
    text = (
        "kind",
        "item",
        "label",
        "gate",
        "phase",
        "seat",
        "person",
        "level",
        "actual",
        "wanted",
        "sentence",
        "why",
        "error_class",
        "managed",
    )
    columns = {"number": "whole"} | dict.fromkeys(text, "text") | {
        "at_s": "number", "closed_at_s": "number", "sim_s": "number", "utc": "number", "lead_s": "number", "carried": "yes or no",
    }  # fmt: skip
    rows: list[tuple[Cell, ...]] = []
    for case in debrief.findings:
        f = case.finding
        said = (str(f.kind), f.item, f.label, f.gate, f.phase, f.seat, case.person, str(f.level), f.actual, f.wanted, f.sentence, f.why)  # fmt: skip
        when = (case.at_s, case.closed_at_s, f.sim_s, case.utc, f.lead_s, f.carried)
        rows.append((f.number, *said, str(case.error_class), case.managed, *when))
    return DebriefTable("findings", columns, rows)


def _notices(debrief: DebriefData) -> DebriefTable:
    columns = {"at_s": "number", "utc": "number", "level": "text", "seat": "text", "item": "text", "gate": "text", "sentence": "text", "repeats": "whole", "finding": "whole"}  # fmt: skip
    rows: list[tuple[Cell, ...]] = []
    for told in debrief.notices:
        n = told.notice
        rows.append(
            (told.at_s, told.utc, str(n.level), n.seat, n.item, n.gate, n.sentence, n.repeats, n.finding)
        )
    return DebriefTable("notices", columns, rows)


def _calls(debrief: DebriefData) -> DebriefTable:
    columns = {
        "at_s": "number",
        "utc": "number",
        "call": "text",
        "title": "text",
        "by": "text",
        "taken_back_s": "number",
    }
    rows = [(c.at_s, c.utc, c.call, c.title, c.by, c.undone_at_s) for c in debrief.calls]
    return DebriefTable("calls", columns, list[tuple[Cell, ...]](rows))


def _remarks(debrief: DebriefData) -> DebriefTable:
    columns = {"sim_s": "number", "utc": "number", "change": "text", "text": "text", "by": "text"}
    rows: list[tuple[Cell, ...]] = [(r.sim_s, r.utc, "", r.text, r.by) for r in debrief.remarks]
    rows += [(n.sim_s, n.utc, str(n.change), n.text, n.by) for n in debrief.session_events]
    return DebriefTable("remarks", columns, rows)


def _flight_times(debrief: DebriefData) -> DebriefTable:
    columns = {
        "sector": "whole",
        "moment": "text",
        "sim_s": "number",
        "utc_s": "number",
        "block_s": "number",
        "flight_s": "number",
    }
    rows: list[tuple[Cell, ...]] = [
        (sector, str(moment), one.at_s, one.utc_s, one.block_s, one.flight_s)
        for sector, noted in debrief.flight_times.items()
        for moment, one in noted.items()
    ]
    return DebriefTable("times", columns, rows)


def _flows(debrief: DebriefData) -> DebriefTable:
    columns = {
        "flow": "text",
        "phase": "text",
        "seat": "text",
        "item": "text",
        "label": "text",
        "life": "text",
        "from_s": "number",
        "to_s": "number",
    }
    rows: list[tuple[Cell, ...]] = [
        (bar.flow, bar.phase, bar.seat, bar.item, bar.label, str(s.life), s.from_s, s.to_s)
        for bar in debrief.item_histories
        for s in bar.intervals
    ]
    return DebriefTable("flows", columns, rows)


_SAMPLE_COLUMNS = {"signal": "text", "unit": "text", "at_s": "number", "value": "number", "word": "text"}


def _traces(debrief: DebriefData) -> DebriefTable:
    rows: list[tuple[Cell, ...]] = []
    for number, strip in enumerate(debrief.traces, start=1):
        shift_s = strip.at_s - strip.record.began_s
        for column in strip.record.columns:
            for time_s, value in zip(strip.record.times_s, column.values, strict=True):
                rows.append(
                    (
                        number,
                        strip.record.trace,
                        column.signal,
                        column.unit,
                        time_s + shift_s,
                        *_value_cells(value),
                    )
                )
    return DebriefTable("strips", {"number": "whole", "strip": "text", **_SAMPLE_COLUMNS}, rows)


def _evidence(debrief: DebriefData) -> DebriefTable:
    rows: list[tuple[Cell, ...]] = []
    for case in debrief.findings:
        for series in case.evidence.series if case.evidence is not None else ():
            for time_s, value in zip(series.times_s, series.values, strict=True):
                rows.append((case.finding.number, series.signal, series.unit, time_s, *_value_cells(value)))
    return DebriefTable("evidence", {"finding": "whole", **_SAMPLE_COLUMNS}, rows)


def _marks(debrief: DebriefData) -> DebriefTable:
    """The events of strips."""
    columns = {"number": "whole", "strip": "text", "label": "text", "at_s": "number"}
    rows: list[tuple[Cell, ...]] = []
    for number, strip in enumerate(debrief.traces, start=1):
        shift_s = strip.at_s - strip.record.began_s
        rows += [
            (number, strip.record.trace, mark.label, mark.sim_s + shift_s) for mark in strip.record.marks
        ]
    return DebriefTable("marks", columns, rows)


def _limits(debrief: DebriefData) -> DebriefTable:
    """The limits beside strips, and beside the evidence of findings: the one number or the other is empty."""
    columns = {"strip": "whole", "finding": "whole", "signal": "text", "value": "number", "label": "text"}
    rows: list[tuple[Cell, ...]] = []
    for number, strip in enumerate(debrief.traces, start=1):
        rows += [(number, None, limit.signal, limit.value, limit.label) for limit in strip.record.limits]
    for case in debrief.findings:
        bounds = case.evidence.limits if case.evidence is not None else ()
        rows += [(None, case.finding.number, bound.signal, bound.value, bound.label) for bound in bounds]
    return DebriefTable("limits", columns, rows)


def _trip_sheet(debrief: DebriefData) -> DebriefTable:
    columns = {"label": "text", "value": "text", "says": "text"}
    rows: list[tuple[Cell, ...]] = [
        (w.label, w.value, w.explanation) for w in (*debrief.trip_values, *debrief.calculations)
    ]
    return DebriefTable("papers", columns, rows)


def _value_cells(value: Value | None) -> Iterator[Cell]:
    """A value in the column for numbers, or in that for words."""
    yield float(value) if isinstance(value, float | int) else None
    yield value if isinstance(value, str) else None
