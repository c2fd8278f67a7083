"""Correct flights of the mock, with the moments at which each rule is judged.

Takes: a shipped pack.  Gives: `CleanFlight`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import NamedTuple

from mock_sim.run import Flight
from rules.judge.events import (
    Callout,
    GateCued,
    GateEntered,
    JudgeEvent,
    PhaseEntered,
    Verdict,
    VerdictChanged,
)
from rules.judge.judge import Judge
from rules.packs.model import Item, Pack, Watch
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Value
from tests.checklists.read_lists import SCENARIOS, JudgedState
from tests.shipped import shipped

_RATE_HZ = 1.0


class FlightMoment(NamedTuple):
    """State at one moment, and the calls up to it."""

    sim_s: float
    state: Mapping[str, Value]
    calls: frozenset[str]


@dataclass
class CleanFlight:
    """A correct flight.

    Attributes:
        pack: The shipped pack.
        trip: Its trip sheet.
        moments: The flight, one a second.
        gates_s: Time just before each gate is entered.
        phases_s: Middle of each phase.
        callouts: Text of each callout that was made.
        holding_s: Middle of the longest time in which each watch applies and holds.
    """

    pack: Pack
    trip: TripSheet
    moments: list[FlightMoment] = field(default_factory=list)
    gates_s: dict[str, float] = field(default_factory=dict)
    phases_s: dict[str, float] = field(default_factory=dict)
    callouts: dict[str, str] = field(default_factory=dict)
    holding_s: dict[str, float] = field(default_factory=dict)

    def at(self, sim_s: float) -> FlightMoment:
        """Last moment up to a time."""
        return self.moments[max(0, min(len(self.moments) - 1, int(sim_s * _RATE_HZ)))]

    def gates_of(self, item: str) -> list[str]:
        """Gates that need an item."""
        return [gate.id for gate in self.pack.gates if item in gate.needs]

    def times_of(self, rule: Item | Watch) -> list[float]:
        """Times at which the rule can be broken, the most natural first."""
        first: list[float] = []
        if isinstance(rule, Watch):
            first += [self.holding_s[rule.id]] if rule.id in self.holding_s else []
            first += [self.phases_s[phase] for phase in rule.phases if phase in self.phases_s]
        else:
            first += [self.gates_s[gate] for gate in self.gates_of(rule.id) if gate in self.gates_s]
            flow = self.pack.flows.get(rule.id.split(".")[1])
            first += [self.phases_s[flow.phase]] if flow is not None and flow.phase in self.phases_s else []
        return list(dict.fromkeys((*first, *self.phases_s.values(), *self.gates_s.values())))


@cache
def fly(name: str) -> CleanFlight:
    """Fly the scenario of a shipped pack without noise, and judge it."""
    pack, trip = shipped(name)
    flight, judged = CleanFlight(pack, trip), JudgedState(Judge(pack, trip))
    events: list[JudgeEvent] = []
    judged.judge_frame = lambda frame: events.extend(judged.judge.judge_frame(frame))  # type: ignore[method-assign]
    calls: frozenset[str] = frozenset()
    for moment in Flight(SCENARIOS[name], seed=5, rate_hz=_RATE_HZ, noise=False):
        calls |= {call.name for call in moment.calls}
        state = {key: v if isinstance(v, str) else float(v) for key, v in moment.state.items()}
        flight.moments.append(FlightMoment(moment.sim_s, state, calls))
        judged.send(moment.sim_s, state, [call.name for call in moment.calls])
    _note_times(flight, events, judged.sim_s)
    return flight


def _note_times(flight: CleanFlight, events: list[JudgeEvent], end_s: float) -> None:
    """Find the times of gates and phases, and the texts of callouts, in the events of the flight."""
    phases: list[tuple[str, float]] = []
    for event in events:
        match event:
            case GateCued(gate=gate, sim_s=at_s):
                flight.gates_s.setdefault(gate, at_s)
            case GateEntered(gate=gate, sim_s=at_s):
                flight.gates_s[gate] = at_s - 1.0
            case Callout(id=name, text=text):
                flight.callouts.setdefault(name, text)
            case PhaseEntered(phase=phase, sim_s=at_s):
                phases.append((phase, at_s))
    for (phase, at_s), later in zip(phases, [*(s for _, s in phases[1:]), end_s], strict=True):
        flight.phases_s[phase] = (at_s + later) / 2
    verdicts = [event for event in events if isinstance(event, VerdictChanged)]
    flight.holding_s |= _middles([event for event in verdicts if event.item.startswith("watch.")], end_s)


def _middles(verdicts: list[VerdictChanged], end_s: float) -> dict[str, float]:
    """Middle of the longest time for which each rule was met."""
    met_since: dict[str, float] = {}
    longest: dict[str, tuple[float, float]] = {}
    ends = [(event.item, event.sim_s, event.verdict is Verdict.MET) for event in verdicts]
    for item, at_s, met in [*ends, *((event.item, end_s, False) for event in verdicts)]:
        if (began_s := met_since.pop(item, None)) is not None:
            longest[item] = max(longest.get(item, (0.0, 0.0)), (at_s - began_s, (at_s + began_s) / 2))
        if met:
            met_since[item] = at_s
    return {item: middle_s for item, (_, middle_s) in longest.items()}
