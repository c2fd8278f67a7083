"""The checklist that is being read, or the choice of one.

Takes: a rig.  Gives: what `checklist.html` shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.page.widgets.item_list.item_list import seat_title
from bridge.runtime.device import Device
from bridge.session.checklist_run import SATISFIED, ChecklistRun
from bridge.terminal.terminal_snapshot import gates_soon
from rules.judge.events import ItemStatus
from rules.judge.judge import Judge
from rules.judge.snapshot import fill_placeholders
from rules.packs.model import Checklist, ChecklistLine, Gate

BOTH_SEATS = "both seats"


@dataclass(frozen=True, slots=True)
class ChecklistChoice:
    """A checklist that may be read; `gate` is the title of the gate that it comes before, '' for none."""

    id: str
    title: str
    read_by: str
    gate: str
    met_count: int
    line_count: int


@dataclass(frozen=True, slots=True)
class ChecklistLineView:
    """One line; `standing` in words, `sentence` only where it is not so."""

    index: int
    challenge: str
    answer: str
    item: str
    seat: str
    state_text: str
    met: bool
    sentence: str
    confirmable: bool
    no_data: bool
    why: str


@dataclass(frozen=True, slots=True)
class ChecklistRunView:
    """The reading: lines that were read, the present one, those to come."""

    id: str
    title: str
    read_by: str
    complete: bool
    previous: tuple[ChecklistLineView, ...]
    current: ChecklistLineView | None
    upcoming: tuple[ChecklistLineView, ...]
    open_lines: tuple[ChecklistLineView, ...]
    line_count: int


def checklist(device: Device) -> Mapping[str, object]:
    """The reading if there is one, and the checklists, those that are due first."""
    core, reading = device.session.judge, device.session.checklist_run
    due, other = _choices(core)
    return {"reading": _run_view(core, reading) if reading else None, "due": due, "other": other}


def _choices(core: Judge) -> tuple[list[ChecklistChoice], list[ChecklistChoice]]:
    """Those that come before the gates ahead, and the others."""
    pack = core.context.pack
    near = {gate.id for gate in gates_soon(core)}
    due: list[ChecklistChoice] = []
    other: list[ChecklistChoice] = []
    for one in pack.checklists.values():
        gate = gate_after(one, pack.gates)
        (due if gate is not None and gate.id in near else other).append(_choice(core, one, gate))
    return due, other


def gate_after(checklist: Checklist, gates: tuple[Gate, ...]) -> Gate | None:
    """The gate that a checklist comes before: the first that needs the most of its lines; None where none does."""
    items = {line.item for line in checklist.lines}
    shares = [len(items.intersection(gate.needs)) for gate in gates]
    most = max(shares, default=0)
    return gates[shares.index(most)] if most else None


def _choice(core: Judge, one: Checklist, gate: Gate | None) -> ChecklistChoice:
    so = sum(core.items.states[line.item].status in SATISFIED for line in one.lines)
    return ChecklistChoice(
        one.id, one.title, _reader_title(core, one), gate.title if gate else "", so, len(one.lines)
    )


def _reader_title(core: Judge, one: Checklist) -> str:
    return BOTH_SEATS if one.read_by == "both" else seat_title(core.context.pack.seats, one.read_by)


def _run_view(core: Judge, reading: ChecklistRun) -> ChecklistRunView:
    one, at = reading.checklist, reading.line_index
    lines = [_line_view(core, number, line) for number, line in enumerate(one.lines)]
    still = set(map(id, reading.open_lines()))
    return ChecklistRunView(
        one.id,
        one.title,
        _reader_title(core, one),
        reading.complete,
        tuple(lines[:at]),
        lines[at] if at < len(lines) else None,
        tuple(lines[at + 1 :]),
        tuple(lines[number] for number, line in enumerate(one.lines) if id(line) in still),
        len(lines),
    )


def _line_view(core: Judge, at: int, line: ChecklistLine) -> ChecklistLineView:
    state = core.items.states[line.item]
    so = state.status in SATISFIED
    return ChecklistLineView(
        at,
        line.challenge,
        fill_placeholders(line.answer, core.context.state),
        line.item,
        seat_title(core.context.pack.seats, state.item.seat),
        "so" if state.status is ItemStatus.MET else str(state.status),
        so,
        "" if so else core.items.reason(state).sentence,
        bool(state.item.confirm),
        state.status is ItemStatus.NO_DATA,
        state.item.why,
    )
