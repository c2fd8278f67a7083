"""Shows the checklist that is being read, or the checklists to choose from.

Takes: a device.  Gives: the values of the template.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.page.widgets.item_list.item_list import seat_title, status_text
from bridge.runtime.device import Device
from bridge.session.checklist_run import ChecklistRun
from bridge.session.gates_ahead import SATISFIED, gates_soon
from rules.judge.events import ItemStatus
from rules.judge.judge import Judge
from rules.judge.snapshot import fill_placeholders
from rules.packs.model import Checklist, ChecklistLine, Gate

BOTH_SEATS = "both seats"


@dataclass(frozen=True, slots=True)
class ChecklistChoice:
    """A checklist to choose; `gate` is the title of the gate that it comes before, '' for none."""

    id: str
    title: str
    read_by: str
    gate: str
    met_count: int
    line_count: int


@dataclass(frozen=True, slots=True)
class ChecklistLineView:
    """One line; `sentence` explains why it is not met, and is '' if it is."""

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
    """The run of a checklist: the lines read, the current line, and the lines to come."""

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
    """Return the current run, if there is one, and the checklists: due ones and others."""
    judge, run = device.session.judge, device.session.checklist_run
    due, other = _choices(judge)
    return {"run": _run_view(judge, run) if run else None, "due": due, "other": other}


def _choices(judge: Judge) -> tuple[list[ChecklistChoice], list[ChecklistChoice]]:
    """Split the checklists into those before the gates ahead, and the others."""
    pack = judge.context.pack
    near = {gate.id for gate in gates_soon(judge)}
    due: list[ChecklistChoice] = []
    other: list[ChecklistChoice] = []
    for checklist in pack.checklists.values():
        gate = gate_after(checklist, pack.gates)
        is_due = gate is not None and gate.id in near
        (due if is_due else other).append(_choice(judge, checklist, gate))
    return due, other


def gate_after(checklist: Checklist, gates: tuple[Gate, ...]) -> Gate | None:
    """Find the gate that a checklist comes before: the first that needs most of its items; None if no gate needs one."""
    items = {line.item for line in checklist.lines}
    shares = [len(items.intersection(gate.needs)) for gate in gates]
    most = max(shares, default=0)
    return gates[shares.index(most)] if most else None


def _choice(judge: Judge, checklist: Checklist, gate: Gate | None) -> ChecklistChoice:
    met_count = sum(judge.items.states[line.item].status in SATISFIED for line in checklist.lines)
    return ChecklistChoice(
        checklist.id,
        checklist.title,
        _reader_title(judge, checklist),
        gate.title if gate else "",
        met_count,
        len(checklist.lines),
    )


def _reader_title(judge: Judge, checklist: Checklist) -> str:
    if checklist.read_by == "both":
        return BOTH_SEATS
    return seat_title(judge.context.pack.seats, checklist.read_by)


def _run_view(judge: Judge, run: ChecklistRun) -> ChecklistRunView:
    checklist, at = run.checklist, run.line_index
    lines = [_line_view(judge, number, line) for number, line in enumerate(checklist.lines)]
    open_lines = set(map(id, run.open_lines()))
    return ChecklistRunView(
        checklist.id,
        checklist.title,
        _reader_title(judge, checklist),
        run.complete,
        tuple(lines[:at]),
        lines[at] if at < len(lines) else None,
        tuple(lines[at + 1 :]),
        tuple(lines[number] for number, line in enumerate(checklist.lines) if id(line) in open_lines),
        len(lines),
    )


def _line_view(judge: Judge, index: int, line: ChecklistLine) -> ChecklistLineView:
    state = judge.items.states[line.item]
    met = state.status in SATISFIED
    return ChecklistLineView(
        index,
        line.challenge,
        fill_placeholders(line.answer, judge.context.state),
        line.item,
        seat_title(judge.context.pack.seats, state.item.seat),
        status_text(state.status),
        met,
        "" if met else judge.items.reason(state).sentence,
        bool(state.item.confirm),
        state.status is ItemStatus.NO_DATA,
        state.item.why,
    )
