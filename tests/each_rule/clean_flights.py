"""Clean flights, each judged once: when the gates are cued and entered, and when each watch applies.

Takes: the name of a flight.  Gives: `CleanFlight`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import TypeAlias

from rules.judge.events import (
    FindingOpened,
    GateCued,
    GateEntered,
    JudgeEvent,
    PhaseEntered,
    Verdict,
    VerdictChanged,
)
from rules.judge.snapshot import WatchStatus
from rules.packs.model import Pack, declared_id
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Value
from tests.accidents.case_player import CasePlayer
from tests.accidents.clean_flight import CleanRecording
from tests.packs_flight.sector_events import record
from tests.packs_trainer.circuit_steps import GO_AROUND, before, since
from tests.packs_trainer.scripted_circuit import STEP_S, ScriptedCircuit
from tests.packs_trainer.scripted_circuit import Step as ScriptedStep
from tests.recorded_flights import RecordedMoment, recorded_flight
from tests.shipped import shipped

SEED = 1
FLIGHTS: Mapping[str, tuple[str, ...]] = {
    "twin_jet": ("sector", "rejected_takeoff", "go_around"),
    "trainer": ("circuit", "circuit_go_around"),
}
"""Flights of each pack, in the order in which a rule is looked for in them."""
RATES_HZ: Mapping[str, float] = {"sector": 1.0, "departure": 1.0, "circuit": 4.0}
"""Moments in a second of those without an event."""


@dataclass(slots=True)
class Span:
    """Part of a flight; `end_s` is None while it lasts."""

    begin_s: float
    end_s: float | None = None


@dataclass
class CleanFlight:
    """A flight, its judgement, and what is found in it although nothing is laid over it."""

    recording: CleanRecording
    gates: dict[str, list[Span]] = field(default_factory=lambda: defaultdict(list))
    phases: list[tuple[str, Span]] = field(default_factory=list)
    watched: dict[str, list[Span]] = field(default_factory=lambda: defaultdict(list))
    met_s: dict[str, float] = field(default_factory=dict)
    found: set[str] = field(default_factory=set)
    end_s: float = 0.0

    @property
    def name(self) -> str:
        """Its name in `FLIGHTS`."""
        return self.recording.scenario

    def judge(self) -> CleanFlight:
        """Judge the flight, and note what is needed of it."""
        player = CasePlayer(self.recording)
        while not player.over:
            for event in player.clean():
                self._note(event)
            self.end_s = player.judge.sim_s
        return self

    def _note(self, event: JudgeEvent) -> None:
        match event:
            case PhaseEntered(sim_s=sim_s, phase=phase):
                if self.phases:
                    self.phases[-1][1].end_s = sim_s
                self.phases.append((phase, Span(sim_s)))
            case GateCued(sim_s=sim_s, gate=gate):
                self.gates[gate].append(Span(sim_s))
            case GateEntered(sim_s=sim_s, gate=gate):
                cued = self.gates[gate]
                if cued and cued[-1].end_s is None:
                    cued[-1].end_s = sim_s
                else:
                    cued.append(Span(sim_s, sim_s))
            case VerdictChanged(item=item) if item.startswith("watch."):
                self._note_watch(event)
            case VerdictChanged(item=item, verdict=Verdict.MET, sim_s=sim_s):
                self.met_s.setdefault(item, sim_s)
            case FindingOpened(finding=finding):
                self.found.add(declared_id(finding.item))

    def _note_watch(self, event: VerdictChanged) -> None:
        spans = self.watched[event.item]
        if spans and spans[-1].end_s is None:
            spans[-1].end_s = event.sim_s
        if event.verdict is Verdict.MET and event.sentence != str(WatchStatus.NOT_APPLICABLE):
            spans.append(Span(event.sim_s))


Moments: TypeAlias = Iterable[tuple[float, Mapping[str, Value], tuple[str, ...]]]


@cache
def clean_flight(name: str) -> CleanFlight:
    """Fly and judge one of `FLIGHTS`."""
    folder = next(pack for pack, names in FLIGHTS.items() if name in names)
    return CleanFlight(_recording(name, *shipped(folder))).judge()


def _recording(name: str, pack: Pack, trip: TripSheet) -> CleanRecording:
    """The flight's moments: once a second for the twin jet, more often for the trainer."""
    if name in RATES_HZ:
        steps = list(recorded_flight(name, seed=SEED, rate_hz=RATES_HZ[name]))
    elif name == "circuit_go_around":
        steps = _steps(_scripted([*before("short"), *GO_AROUND, *since("level")]))
    else:
        steps = _steps(record(name, SEED).moments)
    signals = dict.fromkeys(signal for step in steps for signal in step.changes)
    return CleanRecording(name, pack, trip, tuple(signals), steps)


def _steps(moments: Moments) -> list[RecordedMoment]:
    """Only the changes of each moment."""
    steps, known = list[RecordedMoment](), dict[str, Value]()
    for sim_s, state, calls in moments:
        changes = {name: value for name, value in state.items() if known.get(name) != value}
        known.update(changes)
        steps.append(RecordedMoment(sim_s, changes, calls))
    return steps


def _scripted(steps: Iterable[ScriptedStep]) -> Moments:
    """Moments of a scripted flight."""
    state, sim_s = ScriptedCircuit().state, 0.0
    for step in steps:
        state |= {name: value for name, value in step.put.items() if name in state}
        for n in range(round(step.lasts_s / STEP_S)):
            sim_s += STEP_S
            yield sim_s, dict(state), step.calls if n == 0 else ()
