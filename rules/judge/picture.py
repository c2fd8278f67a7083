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
from rules.judge.entries import Finding, Life, Verdict
from rules.judge.gates import Gates
from rules.judge.items import Items, ItemState, verdict_of
from rules.judge.needs import Needs
from rules.judge.session import Session, expect_id
from rules.judge.watches import Watches, WatchState
from rules.judge.wording import evidence, plain
from rules.packs.model import Checklist, Flow, Gate, Level
from rules.signals.model import Quality
from rules.signals.numbers import say
from rules.signals.state import State
from rules.source import did_you_mean

_PLACE = re.compile(r"\{([^{}]+)\}")


@dataclass(frozen=True, slots=True)
class ItemPicture:
    """One expectation: `held_s` is for how long it has been as it is, `finding_open` whether it is on the record."""

    id: str
    label: str
    seat: str
    level: Level
    life: Life
    verdict: Verdict
    sentence: str
    actual: str
    wanted: str
    why: str
    since_s: float
    held_s: float
    finding_open: bool


@dataclass(frozen=True, slots=True)
class GatePicture:
    """One gate: `cued_s` is None while it waits; `open_items` are in the order of its needs."""

    id: str
    title: str
    phase: str
    cued_s: float | None
    open_items: tuple[ItemPicture, ...]
    no_data_items: tuple[ItemPicture, ...]
    met: int
    excused: int

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
class SeatPicture:
    """One seat's part of a flow."""

    seat: str
    title: str
    items: tuple[ItemPicture, ...]


@dataclass(frozen=True, slots=True)
class FlowPicture:
    """One flow, seat by seat."""

    id: str
    title: str
    phase: str
    seats: tuple[SeatPicture, ...]


@dataclass(frozen=True, slots=True)
class LinePicture:
    """One line of a checklist, its answer filled in from the state."""

    challenge: str
    answer: str
    item: ItemPicture


@dataclass(frozen=True, slots=True)
class ChecklistPicture:
    """One checklist."""

    id: str
    title: str
    read_by: str
    lines: tuple[LinePicture, ...]


@dataclass(frozen=True, slots=True)
class WatchPicture:
    """One watch: `standing` in words ("holds", "does not apply", ...)."""

    id: str
    label: str
    seat: str
    level: Level
    standing: str
    sentence: str
    since_s: float
    finding_open: bool


@dataclass(frozen=True, slots=True)
class Picture:
    """All of it at `sim_s`; `quiet` is true while notices of some level are held back."""

    sim_s: float
    phase: str
    phase_title: str
    gates: tuple[GatePicture, ...]
    flows: tuple[FlowPicture, ...]
    checklists: tuple[ChecklistPicture, ...]
    watches: tuple[WatchPicture, ...]
    findings: tuple[Finding, ...]
    quiet: bool


class Judged(Protocol):
    """What a picture is taken of: the core."""

    session: Session
    items: Items
    needs: Needs
    gates: Gates
    watches: Watches

    @property
    def findings(self) -> list[Finding]:
        """Every finding of the session."""

    @property
    def quiet(self) -> bool:
        """Whether notices of some level are held back now."""

    def finding_open(self, item: str) -> bool:
        """Whether something found on this item is still open."""


def take_picture(core: Judged) -> Picture:
    """Everything as it stands now: the gates in play, all flows, checklists and watches."""
    session, pack = core.session, core.session.pack
    return Picture(
        session.sim_s,
        session.phase,
        session.phase_title(session.phase),
        tuple(_gate(core, gate) for gate in pack.gates if gate.id in session.in_play),
        tuple(_flow(core, flow) for flow in pack.flows.values()),
        tuple(_checklist(core, checklist) for checklist in pack.checklists.values()),
        tuple(_watch(core, state) for state in core.watches.states.values()),
        tuple(core.findings),
        core.quiet,
    )


def judge_gate(core: Judged, gate: str) -> GatePicture:
    """How one gate stands, whether it is in play or not.

    Args:
        core: The core, after at least one frame.
        gate: The gate's id.

    Raises:
        InputFaults: The pack has no such gate.
    """
    found = core.session.gates.get(gate)
    if found is None:
        hint = did_you_mean(gate, core.session.gates)
        raise InputFaults([Fault(Place("gate"), f"unknown gate {gate}", "a gate of the pack", hint)])
    return _gate(core, found)


def fill(answer: str, state: State) -> str:
    """A checklist's answer with each `{signal}` said as it is now."""
    return _PLACE.sub(lambda place: say_signal(state, place[1].strip()), answer)


def say_signal(state: State, name: str) -> str:
    """A signal's present value as it is read aloud, or why there is none."""
    signal, sample = state.signals.get(name), state.sample(name)
    if sample.quality is Quality.STALE:
        return "(out of date)"
    if signal is None or sample.value is None:
        return "(not valid)" if sample.quality is Quality.INVALID else "(no data)"
    return plain(sample.value) if isinstance(sample.value, str) else say(sample.value, signal.unit)


def _item(core: Judged, state: ItemState) -> ItemPicture:
    """One expectation as it stands."""
    item, reason = state.item, core.items.reason(state)
    actual, wanted = evidence(reason)
    return ItemPicture(
        item.id,
        item.label,
        item.seat,
        item.level,
        state.life,
        verdict_of(state.truth),
        reason.sentence,
        actual,
        wanted,
        item.why,
        state.since_s,
        core.session.sim_s - state.since_s,
        core.finding_open(item.id),
    )


def _items(core: Judged, ids: Iterable[str]) -> tuple[ItemPicture, ...]:
    """Several, in this order."""
    return tuple(_item(core, core.items.states[i]) for i in ids)


def _gate(core: Judged, gate: Gate) -> GatePicture:
    """One gate as it stands."""
    needs = core.needs.states(gate)
    lives = Counter(state.life for state in needs)
    unmet = (state.item.id for state in needs if state.life in (Life.OPEN, Life.LOST))
    unsent = (state.item.id for state in needs if state.life is Life.NO_DATA)
    return GatePicture(
        gate.id,
        gate.title,
        gate.phase,
        core.gates.states[gate.id].cued_s,
        _items(core, unmet),
        _items(core, unsent),
        lives[Life.MET] + lives[Life.CONFIRMED],
        lives[Life.EXCUSED],
    )


def _flow(core: Judged, flow: Flow) -> FlowPicture:
    """One flow as it stands."""
    titles = core.session.pack.seats
    seats = (
        SeatPicture(seat, titles.get(seat, seat), _items(core, items)) for seat, items in flow.seats.items()
    )
    return FlowPicture(flow.id, flow.title, flow.phase, tuple(seats))


def _checklist(core: Judged, checklist: Checklist) -> ChecklistPicture:
    """One checklist as it stands."""
    state = core.session.state
    lines = (
        LinePicture(line.challenge, fill(line.answer, state), _item(core, core.items.states[line.item]))
        for line in checklist.lines
    )
    return ChecklistPicture(checklist.id, checklist.title, checklist.read_by, tuple(lines))


def _watch(core: Judged, state: WatchState) -> WatchPicture:
    """One watch as it stands."""
    watch = state.watch
    return WatchPicture(
        watch.id,
        watch.label,
        watch.seat,
        watch.level,
        str(state.standing),
        core.session.monitors.explain(expect_id(watch.id)).sentence,
        state.since_s,
        core.finding_open(watch.id),
    )
