"""Events that are no error of the crew do not confuse the judge, and an error that follows one is found."""

from __future__ import annotations

from functools import cache

import pytest

from rules.judge.events import ItemStatus, TraceRecorded
from rules.judge.judge import Judge
from tests.packs_flight.recorded_sector import JudgedFlight
from tests.packs_flight.sector_events import Slip, events, judge, record
from tests.shipped import shipped

SEED = 1
CASES = [
    (event, seed) for event, expected in events().items() for seed in ((1,) if expected.joins else (1, 2))
]
SLIPS = [
    pytest.param(event, slip, id=f"{event}: {slip.description}")
    for event, expected in events().items()
    for slip in expected.slips
]


@cache
def judged(event: str, seed: int) -> JudgedFlight:
    """An event, judged once."""
    return judge(event, seed, first_s=joins_s(event, seed))


def joins_s(event: str, seed: int) -> float:
    """Time at which the bridge connects: at the beginning, or shortly before the phase."""
    joins = events()[event].joins
    if not joins:
        return 0.0
    moments = record(event, seed).moments
    calls = {call: m.sim_s for m in reversed(moments) for call in m.calls}
    return calls["descent_clearance"] - 60.0 if joins == "descent" else calls["landing_clearance"]


@pytest.mark.parametrize(("event", "seed"), CASES)
def test_an_event_gives_its_own_phases_and_findings_and_no_others(event: str, seed: int) -> None:
    """Phases follow the actual flight; the only findings are about the aeroplane itself, and they are closed again."""
    flight, expected = judged(event, seed), events()[event]
    sentences = [f"{f.sim_s:.0f} s {f.item}: {f.sentence}" for f in flight.judge.findings]
    assert flight.found == expected.found, sentences
    assert [f.item for f in flight.judge.findings if f.closed_s is None] == []
    start = flight.phases.index(expected.phases[0])
    assert tuple(flight.phases[start:]) == expected.phases


@pytest.mark.parametrize(("event", "slip"), SLIPS)
def test_an_error_after_an_event_is_found(event: str, slip: Slip) -> None:
    """The same flight with an error after the event gives the finding of the error beside those of the event."""
    flight = judge(event, SEED, slip, first_s=joins_s(event, SEED))
    assert set(flight.found) >= set(slip.found), flight.found


def test_a_rejected_take_off_leaves_the_times_of_its_actions() -> None:
    """The trace of the roll, which the debrief shows, has the levers, brakes, spoilers and reverse in their order."""
    flight = judged("rejected_takeoff", SEED)
    (roll,) = [e for e in flight.entries if isinstance(e, TraceRecorded) and e.trace == "trace.takeoff_roll"]
    at_s = {mark.label: mark.sim_s for mark in roll.marks}
    actions = ["thrust closed", "brakes", "spoilers", "reverse"]
    assert set(actions) <= set(at_s), at_s
    assert at_s["80 kt"] < at_s["thrust closed"] == min(at_s[action] for action in actions)
    assert max(at_s[action] for action in actions) - at_s["thrust closed"] < 10.0
    assert any(column.signal == "controls.spoiler.left" for column in roll.columns)


def test_after_a_return_to_the_stand_every_check_is_open_again() -> None:
    """Who reads the list before the start again, before the aeroplane is secured, begins again: checks and calls are not done."""
    flight, moments = JudgedFlight(Judge(*shipped("twin_jet"))), iter(record("return_to_stand", SEED).moments)
    while "shutdown" not in flight.phases:
        flight.play([next(moments)])
    again = [next(moments) for _ in range(3)]
    flight.play([*again[:2], again[2]._replace(calls=("before_start_checklist",))])
    assert flight.phases[-2:] == ["shutdown", "before_start"]
    judge, came_s = flight.judge, flight.phase_s("before_start")
    gates = [g for g in judge.pack.gates if g.id in ("before_taxi", "taxi", "line_up", "takeoff")]
    states = [judge.snapshot().items[item] for gate in gates for item in gate.needs]
    assert len(states) > 100
    assert ItemStatus.CONFIRMED not in {state.status for state in states}
    assert all(state.last_met_s is None or state.last_met_s >= came_s for state in states)
    assert not judge.snapshot().calls & {
        "before_taxi_checklist",
        "taxi_clearance",
        "lineup_clearance",
    }
    assert judge.snapshot().gates["push_back"].active
