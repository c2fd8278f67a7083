"""The mock pilot's circuit, judged: no notices on the clean flight, and the right finding for every slip.

A slipped flight continues from a saved state of the clean one, and all of it is judged from the first moment on.

Takes: the mock's circuit.  Gives: the tests.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import pytest

from mock_sim.run import Flight, FlightCheckpoint, FlightMoment
from rules.judge.events import JudgeEvent, Notice, PhaseEntered
from rules.judge.judge import Judge
from rules.signals.model import Frame, Quality, Sample, Value
from tests.packs_trainer.scripted_circuit import demo_trip_sheet, shipped

RATE_HZ = 2.0
HALT_EVERY_S = 60.0
SETTLES_S = 3.0

FOUND: dict[str, dict[str, str]] = {
    "pitot_cover_on": {"flow.walkround.pitot_cover": "omitted"},
    "static_cover_on": {"flow.walkround.static_cover": "omitted"},
    "breaker_open": {"flow.before_start.breaker.pitot_heat": "undone"},
    "fuel_not_drained": {"flow.walkround.fuel_sampled": "omitted"},
    "right_tank_not_dipped": {"flow.walkround.fuel_dipped.right": "wrong_value"},
    "inlet_plugs_in": {"flow.walkround.engine_plugs": "omitted"},
    "fuel_cap_open": {"flow.walkround.fuel_caps.left": "undone"},
    "no_briefing": {"flow.before_start.briefing": "omitted"},
    "belt_open": {"flow.before_start.passenger_belt": "omitted"},
    "seat_unlocked": {"flow.before_start.seat_lock": "omitted"},
    "selector_right": {"flow.before_start.selector": "wrong_value"},
    "beacon_late": {"flow.before_start.beacon": "undone"},
    "avionics_during_start": dict.fromkeys(
        ("flow.before_start.avionics_off.1", "flow.before_start.avionics_off.2"), "undone"
    ),
    "primer_out": {"flow.before_start.primer": "undone"},
    "cranks_40_s": {"flow.before_start.mixture_rich": "undone", "watch.long_cranking": "limit_exceeded"},
    "no_oil_pressure": {"watch.oil_within_30_s": "limit_exceeded"},
    "alternator_off": {"flow.after_start.alternator": "omitted"},
    "altimeter_wrong": {"flow.after_start.altimeter_setting": "wrong_value"},
    "squawk_wrong": {"flow.after_start.squawk": "wrong_value"},
    "heading_not_set": {"flow.after_start.gyro_set": "wrong_value"},
    "taxi_early": {"flow.after_start.taxi_clearance": "too_early"},
    "brakes_not_tried": {"watch.brakes_tried": "omitted"},
    "runup_without_brake": {"flow.run_up.brake_for_run_up": "omitted"},
    "right_magneto_not_tried": {"flow.run_up_check.each_magneto": "wrong_value"},
    "magneto_without_drop": {"flow.run_up_check.drop_left": "limit_exceeded"},
    "heat_not_tried": {"flow.run_up_check.carburettor_heat_works": "omitted"},
    "elevator_not_swept": {"flow.before_takeoff.elevator": "omitted"},
    "rudder_not_swept": {"flow.before_takeoff.rudder": "omitted"},
    "trim_nose_up": {"flow.before_takeoff.trim": "wrong_value"},
    "flaps_28_takeoff": {"flow.before_takeoff.flaps": "wrong_value"},
    "flaps_not_set": {"flow.before_takeoff.flaps": "wrong_value"},
    "pump_off_takeoff": {"flow.before_takeoff.pump_on": "omitted"},
    "selector_left": {"flow.before_start.selector": "undone"},
    "mixture_lean": {"flow.before_takeoff.mixture": "undone"},
    "heat_left_on": {"flow.before_takeoff.carburettor": "undone"},
    "magneto_on_left": {"flow.before_takeoff.magnetos_both": "undone"},
    "pitot_heat_off": {"flow.before_takeoff.pitot_heat_dry": "omitted"},
    "door_unlatched": {"flow.before_takeoff.doors_latched.rest": "undone"},
    "window_open": {"flow.before_takeoff.doors_latched.left": "undone"},
    "strobe_off": {"flow.line_up.strobe": "omitted", "flow.line_up.landing_light": "omitted"},
    "transponder_standby": {"flow.line_up.transponder": "omitted"},
    "enters_early": {"watch.runway_entered": "too_early"},
    "brake_set_takeoff": {"flow.line_up.brake_off": "omitted"},
    "climb_flaps_left": {"flow.initial_climb.flaps_by_height": "omitted"},
    "climb_pump_left_on": {"flow.climb.climb_pump_off": "omitted"},
    "no_downwind_checks": {"flow.downwind.read_downwind": "omitted"},
    "pump_off_landing": {"flow.downwind.approach_pump": "omitted"},
    "brake_set_landing": {"flow.downwind.approach_brake": "omitted"},
    "mixture_lean_landing": {"flow.downwind.approach_mixture": "omitted"},
    "approach_without_heat": {"flow.downwind.approach_carburettor": "omitted"},
    "landing_flaps_16": {"flow.before_landing.landing_flaps": "wrong_value"},
    "flaps_left_down": {"flow.after_landing.flaps_after_landing": "omitted"},
    "heat_left_on_taxi": {"flow.after_landing.carburettor_after_landing": "omitted"},
    "strobe_left_on": {
        "flow.after_landing.strobe_after_landing": "omitted",
        "flow.after_landing.landing_light_after": "omitted",
    },
    "transponder_left_on": {"flow.after_landing.transponder_after_landing": "wrong_value"},
    "avionics_left_on": dict.fromkeys(
        ("flow.stand.avionics_first.1", "flow.stand.avionics_first.2"), "omitted"
    ),
    "stopped_by_key": {"watch.stopped_by_mixture": "out_of_order"},
    "magnetos_left_on": {"flow.shutdown.magnetos_last": "wrong_value"},
    "master_left_on": {"flow.shutdown.alternator_off": "omitted", "flow.shutdown.master_off": "omitted"},
    "lock_forgotten": {"flow.secure.lock_in": "omitted"},
    "chocks_forgotten": {"flow.secure.chocks_in": "omitted"},
    "cover_forgotten": {"flow.secure.pitot_covered": "omitted"},
}
"""By slip: all findings, until the last of them."""


@dataclass
class Listener:
    """A judge that is sent the mock's moments."""

    judge: Judge
    entries: list[JudgeEvent]
    sent: dict[str, Value]

    def send(self, moment: FlightMoment) -> None:
        """Send one moment with every signal, its changes marked."""
        state = {k: v if isinstance(v, str) else float(v) for k, v in moment.state.items()}
        changes = [
            Sample(k, v, Quality.FRESH, moment.sim_s) for k, v in state.items() if self.sent.get(k) != v
        ]
        self.sent = state
        calls = tuple(call.name for call in moment.calls)
        frame = Frame("mock", moment.sim_s, moment.sim_s, 0, tuple(state), changes, calls)
        self.entries += self.judge.judge_frame(frame)

    @property
    def found(self) -> dict[str, str]:
        """Kind of each finding, by its item."""
        return {finding.item: str(finding.kind) for finding in self.judge.findings}


def listener() -> Listener:
    """A judge before its first moment."""
    return Listener(Judge(shipped(), demo_trip_sheet()), [], {})


def fresh(slips: list[str]) -> Flight:
    """A circuit before its first moment."""
    return Flight("circuit", slips, seed=1, rate_hz=RATE_HZ)


@dataclass(frozen=True)
class Clean:
    """The clean circuit: its moments, its judgement, the time of each step, and states from which a flight can continue."""

    moments: list[FlightMoment]
    judged: Listener
    step_times_s: dict[str, float]
    halts: list[FlightCheckpoint]


@cache
def clean() -> Clean:
    """The clean circuit, flown and judged once."""
    flight, moments, halts, judged = fresh([]), list[FlightMoment](), list[FlightCheckpoint](), listener()
    for moment in flight:
        moments.append(moment)
        judged.send(moment)
        if moment.sim_s % HALT_EVERY_S == 0.0:
            halts.append(flight.checkpoint())
    return Clean(moments, judged, flight.crew.step_times_s, halts)


def slipped(name: str) -> Iterator[FlightMoment]:
    """A flight with one slip: the same as the clean one until shortly before it."""
    flight = fresh([name])
    slip = next(slip for slip in flight.scenario.slips if slip.id == name)
    steps = [f"{slip.seat}.{step}" for step in (slip.step, slip.change.before) if step]
    first_s = min(clean().step_times_s[step] for step in steps)
    halt = [halt for halt in clean().halts if halt.sim_s < first_s - 5.0][-1]
    yield from (moment for moment in clean().moments if moment.sim_s < halt.sim_s)
    yield from flight.resume_from(halt)


def test_clean_flight_has_no_findings() -> None:
    """From parked to parked, with noise, all phases come in their order, without findings and notices."""
    judged = clean().judged
    phases = [entry.phase for entry in judged.entries if isinstance(entry, PhaseEntered)]
    order = [phase.id for phase in shipped().phases if phase.id not in ("climb", "go_around")]
    assert phases == order
    assert judged.found == {}
    assert [entry for entry in judged.entries if isinstance(entry, Notice)] == []


def test_every_slip_is_judged_here() -> None:
    """Each slip of the catalogue has a case."""
    assert {slip.id for slip in fresh([]).scenario.slips} == set(FOUND)


@pytest.mark.parametrize("name", FOUND)
def test_slip_gives_its_findings(name: str) -> None:
    """The findings are those of the slip, and no other comes before all of them have come."""
    judged, complete_s = listener(), None
    for moment in slipped(name):
        judged.send(moment)
        if complete_s is None and FOUND[name].keys() <= judged.found.keys():
            complete_s = moment.sim_s
        if complete_s is not None and moment.sim_s > complete_s + SETTLES_S:
            break
    assert judged.found == FOUND[name]
