"""Pictures: how everything stands at one moment, for screens and for a still judgement of one gate.

Takes: a core.  Gives: frozen types that do not change when the core goes on.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from rules.faults import Fault, InputFaults, Place
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
from rules.source import did_you_mean

_PLACEHOLDER = re.compile(r"\{([^{}]+)\}")


@dataclass(frozen=True, slots=True)
class ItemSnapshot:
    """One expectation: `held_s` is for how long it has been as it is, `finding_open` whether it is on the record."""

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
    """One gate: `cued_s` is None while it waits; `open_items` are in the order of its needs."""

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
        """Whether the crew is about to go."""
        return self.cued_s is not None

    @property
    def open(self) -> int:
        """How many needs are not met."""
        return len(self.open_items)

    @property
    def no_data(self) -> int:
        """How many needs nobody ever sent the signals of."""
        return len(self.no_data_items)


@dataclass(frozen=True, slots=True)
class SeatSnapshot:
    """One seat's part of a flow."""

    seat: str
    title: str
    items: tuple[ItemSnapshot, ...]


@dataclass(frozen=True, slots=True)
class FlowSnapshot:
    """One flow, seat by seat."""

    id: str
    title: str
    phase: str
    seats: tuple[SeatSnapshot, ...]


@dataclass(frozen=True, slots=True)
class ChecklistLineSnapshot:
    """One line of a checklist, its answer filled in from the state."""

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
    """One watch: `standing` in words ("holds", "does not apply", ...)."""

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
    """All of it at `sim_s`; `quiet` is true while notices of some level are held back."""

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
    """What a picture is taken of: the core."""

    context: JudgeContext
    items: Items
    gate_requirements: GateRequirements
    gates: Gates
    watches: Watches

    @property
    def findings(self) -> list[Finding]:
        """Every finding of the session."""

    @property
    def quiet(self) -> bool:
        """Whether notices of some level are held back now."""

    def has_open_finding(self, item: str) -> bool:
        """Whether something found on this item is still open."""


def take_snapshot(source: SnapshotSource) -> Snapshot:
    """Everything as it stands now: the gates in play, all flows, checklists and watches."""
    session, pack = source.context, source.context.pack
    return Snapshot(
        session.sim_s,
        session.phase,
        session.phase_title(session.phase),
        tuple(_gate(source, gate) for gate in pack.gates if gate.id in session.active_gates),
        tuple(_flow(source, flow) for flow in pack.flows.values()),
        tuple(_checklist(source, checklist) for checklist in pack.checklists.values()),
        tuple(_watch(source, state) for state in source.watches.states.values()),
        tuple(source.findings),
        source.quiet,
    )


def gate_snapshot(source: SnapshotSource, gate: str) -> GateSnapshot:
    """How one gate stands, whether it is in play or not.

    Args:
        source: The core, after at least one frame.
        gate: The gate's id.

    Raises:
        InputFaults: The pack has no such gate.
    """
    found = source.context.gates.get(gate)
    if found is None:
        hint = did_you_mean(gate, source.context.gates)
        raise InputFaults([Fault(Place("gate"), f"unknown gate {gate}", "a gate of the pack", hint)])
    return _gate(source, found)


def fill_placeholders(answer: str, state: SignalState) -> str:
    """A checklist's answer with each `{signal}` said as it is now."""
    return _PLACEHOLDER.sub(lambda place: signal_text(state, place[1].strip()), answer)


def signal_text(state: SignalState, name: str) -> str:
    """A signal's present value as it is read aloud, or why there is none."""
    signal, sample = state.signals.get(name), state.sample(name)
    if sample.quality is Quality.STALE:
        return "(out of date)"
    if signal is None or sample.value is None:
        return "(not valid)" if sample.quality is Quality.INVALID else "(no data)"
    return (
        word_text(sample.value) if isinstance(sample.value, str) else format_value(sample.value, signal.unit)
    )


def _item(source: SnapshotSource, state: ItemState) -> ItemSnapshot:
    """One expectation as it stands."""
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
    """Several, in this order."""
    return tuple(_item(source, source.items.states[i]) for i in ids)


def _gate(source: SnapshotSource, gate: Gate) -> GateSnapshot:
    """One gate as it stands."""
    needs = source.gate_requirements.states(gate)
    lives = Counter(state.status for state in needs)
    unmet = (state.item.id for state in needs if state.status in (ItemStatus.OPEN, ItemStatus.LOST))
    unsent = (state.item.id for state in needs if state.status is ItemStatus.NO_DATA)
    return GateSnapshot(
        gate.id,
        gate.title,
        gate.phase,
        source.gates.states[gate.id].cued_s,
        _items(source, unmet),
        _items(source, unsent),
        lives[ItemStatus.MET] + lives[ItemStatus.CONFIRMED],
        lives[ItemStatus.WAIVED],
    )


def _flow(source: SnapshotSource, flow: Flow) -> FlowSnapshot:
    """One flow as it stands."""
    titles = source.context.pack.seats
    seats = (
        SeatSnapshot(seat, titles.get(seat, seat), _items(source, items))
        for seat, items in flow.seats.items()
    )
    return FlowSnapshot(flow.id, flow.title, flow.phase, tuple(seats))


def _checklist(source: SnapshotSource, checklist: Checklist) -> ChecklistSnapshot:
    """One checklist as it stands."""
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
    """One watch as it stands."""
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
