"""A session as tables, for those who want to reckon with it themselves.

Each table has named columns of one type each; a cell may be empty (None).  `at_s` is the session's own axis of time (see
`bridge.debrief.account`), `sim_s` the simulator's clock, `utc` seconds since 1970.

Takes: an account.  Gives: `Sheet`s.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

from bridge.debrief.account import Account
from rules.signals.model import Value

Cell: TypeAlias = str | float | int | bool | None


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table: the columns with their types (`text`, `number`, `whole`, `yes or no`), and rows."""

    name: str
    columns: dict[str, str]
    rows: list[tuple[Cell, ...]]


def sheets(account: Account) -> tuple[Sheet, ...]:
    """Every table of a session."""
    return (
        _session(account),
        _seats(account),
        _phases(account),
        _gates(account),
        _findings(account),
        _notices(account),
        _calls(account),
        _remarks(account),
        _times(account),
        _flows(account),
        _strips(account),
        _marks(account),
        _evidence(account),
        _limits(account),
        _papers(account),
    )


def _session(account: Account) -> Sheet:
    a = account
    text: dict[str, Cell] = {
        "uuid": a.uuid, "name": a.name, "course": a.course, "device": a.device, "device_title": a.device_title,
        "ending": a.ending, "program": a.program, "pack": a.pack, "pack_title": a.pack_title,
        "pack_version": a.pack_version, "papers_title": a.papers_title,
    }  # fmt: skip
    columns = dict.fromkeys(text, "text") | {
        "began_utc": "number", "ended_utc": "number", "from_s": "number", "to_s": "number", "jumps": "whole",
        "faults": "text",
    }  # fmt: skip
    row = (*text.values(), a.began_utc, a.ended_utc, a.from_s, a.to_s, a.jumps, " ".join(a.faults))
    return Sheet("session", columns, [row])


def _seats(account: Account) -> Sheet:
    columns = {"seat": "text", "title": "text", "person": "text"}
    rows: list[tuple[Cell, ...]] = [
        (seat, title, account.crew.get(seat, "")) for seat, title in account.seats.items()
    ]
    return Sheet("seats", columns, rows)


def _phases(account: Account) -> Sheet:
    columns = {
        "phase": "text",
        "title": "text",
        "code": "text",
        "from_s": "number",
        "to_s": "number",
        "utc": "number",
    }
    return Sheet(
        "phases", columns, [(s.id, s.title, s.code, s.from_s, s.to_s, s.utc) for s in account.stages]
    )


def _gates(account: Account) -> Sheet:
    columns = {
        "number": "whole", "gate": "text", "title": "text", "phase": "text", "needs": "whole", "cue_at_s": "number",
        "open_at_cue": "whole", "entered_at_s": "number", "spare_s": "number", "carried": "whole",
    }  # fmt: skip
    rows: list[tuple[Cell, ...]] = []
    for gate in account.gates:
        p = gate.passage
        rows.append((p.number, p.gate, p.title, p.phase, p.needs, gate.cue_at_s, p.open_at_cue, gate.entered_at_s, p.spare_s, p.carried))  # fmt: skip
    return Sheet("gates", columns, rows)


def _findings(account: Account) -> Sheet:
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
    for case in account.cases:
        f = case.finding
        said = (str(f.kind), f.item, f.label, f.gate, f.phase, f.seat, case.person, str(f.level), f.actual, f.wanted, f.sentence, f.why)  # fmt: skip
        when = (case.at_s, case.closed_at_s, f.sim_s, case.utc, f.lead_s, f.carried)
        rows.append((f.number, *said, str(case.error_class), case.managed, *when))
    return Sheet("findings", columns, rows)


def _notices(account: Account) -> Sheet:
    columns = {"at_s": "number", "utc": "number", "level": "text", "seat": "text", "item": "text", "gate": "text", "sentence": "text", "repeats": "whole", "finding": "whole"}  # fmt: skip
    rows: list[tuple[Cell, ...]] = []
    for told in account.notices:
        n = told.notice
        rows.append(
            (told.at_s, told.utc, str(n.level), n.seat, n.item, n.gate, n.sentence, n.repeats, n.finding)
        )
    return Sheet("notices", columns, rows)


def _calls(account: Account) -> Sheet:
    columns = {
        "at_s": "number",
        "utc": "number",
        "call": "text",
        "title": "text",
        "by": "text",
        "taken_back_s": "number",
    }
    rows = [(c.at_s, c.utc, c.call, c.title, c.by, c.taken_back_s) for c in account.calls]
    return Sheet("calls", columns, list[tuple[Cell, ...]](rows))


def _remarks(account: Account) -> Sheet:
    columns = {"sim_s": "number", "utc": "number", "change": "text", "text": "text", "by": "text"}
    rows: list[tuple[Cell, ...]] = [(r.sim_s, r.utc, "", r.text, r.by) for r in account.remarks]
    rows += [(n.sim_s, n.utc, str(n.change), n.text, n.by) for n in account.notes]
    return Sheet("remarks", columns, rows)


def _times(account: Account) -> Sheet:
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
        for sector, noted in account.times.items()
        for moment, one in noted.items()
    ]
    return Sheet("times", columns, rows)


def _flows(account: Account) -> Sheet:
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
        for bar in account.bars
        for s in bar.stretches
    ]
    return Sheet("flows", columns, rows)


_LONG = {"signal": "text", "unit": "text", "at_s": "number", "value": "number", "word": "text"}


def _strips(account: Account) -> Sheet:
    rows: list[tuple[Cell, ...]] = []
    for number, strip in enumerate(account.strips, start=1):
        shift_s = strip.at_s - strip.kept.began_s
        for column in strip.kept.columns:
            for time_s, value in zip(strip.kept.times_s, column.values, strict=True):
                rows.append(
                    (number, strip.kept.strip, column.signal, column.unit, time_s + shift_s, *_told(value))
                )
    return Sheet("strips", {"number": "whole", "strip": "text", **_LONG}, rows)


def _evidence(account: Account) -> Sheet:
    rows: list[tuple[Cell, ...]] = []
    for case in account.cases:
        for series in case.evidence.series if case.evidence is not None else ():
            for time_s, value in zip(series.times_s, series.values, strict=True):
                rows.append((case.finding.number, series.signal, series.unit, time_s, *_told(value)))
    return Sheet("evidence", {"finding": "whole", **_LONG}, rows)


def _marks(account: Account) -> Sheet:
    """The events of strips."""
    columns = {"number": "whole", "strip": "text", "label": "text", "at_s": "number"}
    rows: list[tuple[Cell, ...]] = []
    for number, strip in enumerate(account.strips, start=1):
        shift_s = strip.at_s - strip.kept.began_s
        rows += [(number, strip.kept.strip, mark.label, mark.sim_s + shift_s) for mark in strip.kept.marks]
    return Sheet("marks", columns, rows)


def _limits(account: Account) -> Sheet:
    """The limits beside strips, and beside the evidence of findings: the one number or the other is empty."""
    columns = {"strip": "whole", "finding": "whole", "signal": "text", "value": "number", "label": "text"}
    rows: list[tuple[Cell, ...]] = []
    for number, strip in enumerate(account.strips, start=1):
        rows += [(number, None, limit.signal, limit.value, limit.label) for limit in strip.kept.limits]
    for case in account.cases:
        bounds = case.evidence.bounds if case.evidence is not None else ()
        rows += [(None, case.finding.number, bound.signal, bound.value, bound.label) for bound in bounds]
    return Sheet("limits", columns, rows)


def _papers(account: Account) -> Sheet:
    columns = {"label": "text", "value": "text", "says": "text"}
    rows: list[tuple[Cell, ...]] = [(w.label, w.value, w.says) for w in (*account.papers, *account.working)]
    return Sheet("papers", columns, rows)


def _told(value: Value | None) -> Iterator[Cell]:
    """A value in the column for numbers, or in that for words."""
    yield float(value) if isinstance(value, float | int) else None
    yield value if isinstance(value, str) else None
