"""Shows the checklist that is being read, or the checklists to choose from.

Takes: a device.  Gives: the values of the template.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from bridge.page.widgets.item_list.item_list import seat_title, status_text
from bridge.runtime.device import Device
from bridge.session.checklist_run import ChecklistRun
from bridge.session.gates_ahead import gates_soon
from rules.judge.events import ItemStatus
from rules.judge.snapshot import ChecklistLineSnapshot, ItemSnapshot, Snapshot
from rules.packs.model import Checklist, Gate, Pack
from rules.words import join_and

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
class OpenItemView:
    """An item of a line that is not met; `sentence` says why, `confirm_text` what the crew confirms, '' where signals show it."""

    id: str
    seat: str
    sentence: str
    lost: bool
    no_data: bool
    unknown: bool
    confirm_text: str


@dataclass(frozen=True, slots=True)
class ChecklistLineView:
    """One line: met, or with the items that are not; `sentence` joins what they say, `known_unmet` unless all are unknown."""

    index: int
    challenge: str
    answer: str
    seat: str
    state_text: str
    met: bool
    known_unmet: bool
    sentence: str
    open_items: tuple[OpenItemView, ...]
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


class ChecklistInputs(NamedTuple):
    """State that the view shows: the `run`; without one `near`, the ids of the next gates, and the number of met lines of each checklist."""

    pack: Pack
    run: ChecklistRunView | None
    near: frozenset[str] = frozenset()
    met_counts: tuple[int, ...] = ()


def checklist_inputs(device: Device) -> ChecklistInputs:
    """Return the current run, or else the state of all checklists."""
    snapshot, run, pack = device.session.current_snapshot(), device.session.checklist_run, device.pack
    if run is not None:
        return ChecklistInputs(pack, _run_view(pack, snapshot, run))
    return ChecklistInputs(
        pack,
        None,
        frozenset(gate.id for gate in gates_soon(pack, snapshot)),
        tuple(sum(line.satisfied for line in one.lines) for one in snapshot.checklists.values()),
    )


def checklist(inputs: ChecklistInputs) -> Mapping[str, object]:
    """Return the current run, or the checklists to choose from: due ones and others."""
    due, other = _choices(inputs) if inputs.run is None else ([], [])
    return {"run": inputs.run, "due": due, "other": other, "calls": bool(inputs.pack.calls)}


def _choices(inputs: ChecklistInputs) -> tuple[list[ChecklistChoice], list[ChecklistChoice]]:
    """Split the checklists into those before the gates ahead, and the others."""
    pack = inputs.pack
    due: list[ChecklistChoice] = []
    other: list[ChecklistChoice] = []
    for checklist, met_count in zip(pack.checklists.values(), inputs.met_counts, strict=True):
        gate = gate_after(checklist, pack.gates)
        is_due = gate is not None and gate.id in inputs.near
        (due if is_due else other).append(_choice(pack, checklist, gate, met_count))
    return due, other


def gate_after(checklist: Checklist, gates: tuple[Gate, ...]) -> Gate | None:
    """Find the gate that a checklist comes before: the first that needs most of its items; None if no gate needs one."""
    items = {item for line in checklist.lines for item in line.items}
    shares = [len(items.intersection(gate.needs)) for gate in gates]
    most = max(shares, default=0)
    return gates[shares.index(most)] if most else None


def _choice(pack: Pack, checklist: Checklist, gate: Gate | None, met_count: int) -> ChecklistChoice:
    return ChecklistChoice(
        checklist.id,
        checklist.title,
        _reader_title(pack, checklist.read_by),
        gate.title if gate else "",
        met_count,
        len(checklist.lines),
    )


def _reader_title(pack: Pack, read_by: str) -> str:
    return BOTH_SEATS if read_by == "both" else seat_title(pack.seats, read_by)


def _run_view(pack: Pack, snapshot: Snapshot, run: ChecklistRun) -> ChecklistRunView:
    checklist, at = snapshot.checklists[run.checklist.id], run.line_index
    lines = [_line_view(pack, number, line) for number, line in enumerate(checklist.lines)]
    open_lines = set(map(id, run.open_lines()))
    return ChecklistRunView(
        checklist.id,
        checklist.title,
        _reader_title(pack, checklist.read_by),
        run.complete,
        tuple(lines[:at]),
        lines[at] if at < len(lines) else None,
        tuple(lines[at + 1 :]),
        tuple(lines[number] for number, line in enumerate(run.checklist.lines) if id(line) in open_lines),
        len(lines),
    )


def _line_view(pack: Pack, index: int, line: ChecklistLineSnapshot) -> ChecklistLineView:
    open_items = tuple(_open_item_view(pack, item) for item in line.open_items)
    concerned = line.open_items or line.items
    seats = dict.fromkeys(seat_title(pack.seats, item.seat) for item in concerned)
    return ChecklistLineView(
        index,
        line.challenge,
        line.answer,
        join_and(seats),
        status_text(line.status),
        line.satisfied,
        line.known_unmet,
        "; ".join(item.sentence for item in open_items),
        open_items,
        "; ".join(dict.fromkeys(item.why for item in concerned if item.why)),
    )


def _open_item_view(pack: Pack, item: ItemSnapshot) -> OpenItemView:
    return OpenItemView(
        item.id,
        seat_title(pack.seats, item.seat),
        item.sentence,
        item.status is ItemStatus.LOST,
        item.status is ItemStatus.NO_DATA,
        item.status is ItemStatus.UNKNOWN,
        pack.items[item.id].confirm,
    )
