"""Snapshots: the state of gates, flows, checklists and watches at one time, for screens and for judging one gate.

Takes: a judge.  Gives: frozen types that do not change afterwards.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from rules.faults import InputFaults, Place
from rules.judge.condition_ids import expect_id
from rules.judge.context import JudgeContext
from rules.judge.events import Finding, ItemStatus, Verdict
from rules.judge.gate_requirements import GateRequirements
from rules.judge.gates import Gates
from rules.judge.items import Items, ItemState, verdict_of
from rules.judge.watches import Watches, WatchState
from rules.judge.wording import actual_and_wanted, word_text
from rules.packs.model import Checklist, Flow, Gate, Level
from rules.signals.model import Quality
from rules.signals.number_format import format_value
from rules.signals.state import SignalState
from rules.source import unknown_fault

_PLACEHOLDER = re.compile(r"\{([^{}]+)\}")


@dataclass(frozen=True, slots=True)
class ItemSnapshot:
    """One item; `held_s` is how long it has had its truth, `finding_open` is true if a finding on it is open."""

    id: str
    label: str
    seat: str
    level: Level
    status: ItemStatus
    verdict: Verdict
    sentence: str
    actual: str
    wanted: str
    why: str
    since_s: float
    held_s: float
    finding_open: bool


@dataclass(frozen=True, slots=True)
class GateSnapshot:
    """One gate; `cued_s` is None without a cue, `open_items` are in the order of its needs."""

    id: str
    title: str
    phase: str
    cued_s: float | None
    open_items: tuple[ItemSnapshot, ...]
    no_data_items: tuple[ItemSnapshot, ...]
    met: int
    waived: int

    @property
    def cued(self) -> bool:
        """True if the gate is cued."""
        return self.cued_s is not None

    @property
    def open(self) -> int:
        """Number of needs that are not met."""
        return len(self.open_items)

    @property
    def no_data(self) -> int:
        """Number of needs without data."""
        return len(self.no_data_items)


@dataclass(frozen=True, slots=True)
class SeatSnapshot:
    """Part of a flow that belongs to one seat."""

    seat: str
    title: str
    items: tuple[ItemSnapshot, ...]


@dataclass(frozen=True, slots=True)
class FlowSnapshot:
    """One flow by seats."""

    id: str
    title: str
    phase: str
    seats: tuple[SeatSnapshot, ...]


@dataclass(frozen=True, slots=True)
class ChecklistLineSnapshot:
    """One line of a checklist, with its answer filled in from the state."""

    challenge: str
    answer: str
    item: ItemSnapshot


@dataclass(frozen=True, slots=True)
class ChecklistSnapshot:
    """One checklist."""

    id: str
    title: str
    read_by: str
    lines: tuple[ChecklistLineSnapshot, ...]


@dataclass(frozen=True, slots=True)
class WatchSnapshot:
    """One watch; `status` is a word such as "holds" or "does not apply"."""

    id: str
    label: str
    seat: str
    level: Level
    status: str
    sentence: str
    since_s: float
    finding_open: bool


@dataclass(frozen=True, slots=True)
class Snapshot:
    """State at `sim_s`; `quiet` is true while notices of any level are held back."""

    sim_s: float
    phase: str
    phase_title: str
    gates: tuple[GateSnapshot, ...]
    flows: tuple[FlowSnapshot, ...]
    checklists: tuple[ChecklistSnapshot, ...]
    watches: tuple[WatchSnapshot, ...]
    findings: tuple[Finding, ...]
    quiet: bool


class SnapshotSource(Protocol):
    """Judge, as far as a snapshot reads it."""

    context: JudgeContext
    items: Items
    gate_requirements: GateRequirements
    gates: Gates
    watches: Watches

    @property
    def findings(self) -> list[Finding]:
        """Findings of the session."""

    @property
    def quiet(self) -> bool:
        """True if notices of any level are held back."""

    def has_open_finding(self, item: str) -> bool:
        """True if any finding on this item is open."""


def take_snapshot(source: SnapshotSource) -> Snapshot:
    """Take a snapshot: the active gates, and all flows, checklists and watches."""
    context, pack = source.context, source.context.pack
    return Snapshot(
        context.sim_s,
        context.phase,
        context.phase_title(context.phase),
        tuple(_gate(source, gate) for gate in pack.gates if gate.id in context.active_gates),
        tuple(_flow(source, flow) for flow in pack.flows.values()),
        tuple(_checklist(source, checklist) for checklist in pack.checklists.values()),
        tuple(_watch(source, state) for state in source.watches.states.values()),
        tuple(source.findings),
        source.quiet,
    )


def gate_snapshot(source: SnapshotSource, gate: str) -> GateSnapshot:
    """Snapshot of one gate, active or not.

    Args:
        source: The judge, after at least one frame.
        gate: Id of the gate.

    Raises:
        InputFaults: The pack has no such gate.
    """
    found = source.context.gates.get(gate)
    if found is None:
        raise InputFaults(
            [unknown_fault(Place("gate"), "gate", gate, source.context.gates, "a gate of the pack")]
        )
    return _gate(source, found)


def fill_placeholders(answer: str, state: SignalState) -> str:
    """Fill in each `{signal}` of a text with its present value."""
    return _PLACEHOLDER.sub(lambda place: signal_text(state, place[1].strip()), answer)


def signal_text(state: SignalState, name: str) -> str:
    """Present value of a signal as it is read aloud, or why it has none."""
    signal, sample = state.signals.get(name), state.sample(name)
    if sample.quality is Quality.STALE:
        return "(out of date)"
    if signal is None or sample.value is None:
        return "(not valid)" if sample.quality is Quality.INVALID else "(no data)"
    return (
        word_text(sample.value) if isinstance(sample.value, str) else format_value(sample.value, signal.unit)
    )


def _item(source: SnapshotSource, state: ItemState) -> ItemSnapshot:
    """Snapshot of one item."""
    item, reason = state.item, source.items.reason(state)
    actual, wanted = actual_and_wanted(reason)
    return ItemSnapshot(
        item.id,
        item.label,
        item.seat,
        item.level,
        state.status,
        verdict_of(state.truth),
        reason.sentence,
        actual,
        wanted,
        item.why,
        state.since_s,
        source.context.sim_s - state.since_s,
        source.has_open_finding(item.id),
    )


def _items(source: SnapshotSource, ids: Iterable[str]) -> tuple[ItemSnapshot, ...]:
    """Snapshots of several items, in this order."""
    return tuple(_item(source, source.items.states[i]) for i in ids)


def _gate(source: SnapshotSource, gate: Gate) -> GateSnapshot:
    """Snapshot of one gate."""
    needs = source.gate_requirements.states(gate)
    statuses = Counter(state.status for state in needs)
    unmet = (state.item.id for state in needs if state.status in (ItemStatus.OPEN, ItemStatus.LOST))
    without_data = (state.item.id for state in needs if state.status is ItemStatus.NO_DATA)
    return GateSnapshot(
        gate.id,
        gate.title,
        gate.phase,
        source.gates.states[gate.id].cued_s,
        _items(source, unmet),
        _items(source, without_data),
        statuses[ItemStatus.MET] + statuses[ItemStatus.CONFIRMED],
        statuses[ItemStatus.WAIVED],
    )


def _flow(source: SnapshotSource, flow: Flow) -> FlowSnapshot:
    """Snapshot of one flow."""
    titles = source.context.pack.seats
    seats = (
        SeatSnapshot(seat, titles.get(seat, seat), _items(source, items))
        for seat, items in flow.seats.items()
    )
    return FlowSnapshot(flow.id, flow.title, flow.phase, tuple(seats))


def _checklist(source: SnapshotSource, checklist: Checklist) -> ChecklistSnapshot:
    """Snapshot of one checklist."""
    state = source.context.state
    lines = (
        ChecklistLineSnapshot(
            line.challenge,
            fill_placeholders(line.answer, state),
            _item(source, source.items.states[line.item]),
        )
        for line in checklist.lines
    )
    return ChecklistSnapshot(checklist.id, checklist.title, checklist.read_by, tuple(lines))


def _watch(source: SnapshotSource, state: WatchState) -> WatchSnapshot:
    """Snapshot of one watch."""
    watch = state.watch
    return WatchSnapshot(
        watch.id,
        watch.label,
        watch.seat,
        watch.level,
        str(state.status),
        source.context.monitors.explain(expect_id(watch.id)).sentence,
        state.since_s,
        source.has_open_finding(watch.id),
    )
