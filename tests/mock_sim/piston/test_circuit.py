"""The circuit, whole and in-process: a clean flight to its end, every slip of the catalogue, sameness by seed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import islice, pairwise

import pytest

from mock_sim.crew import CrewCall
from mock_sim.run import Flight, FlightMoment
from mock_sim.scenario import Scenario
from rules.signals.model import Value
from tests.mock_sim.piston.piston_steps import not_valid

CALLS = [
    "walkround_done",
    "passenger_briefing",
    "before_start_checklist",
    "after_start_checklist",
    "taxi_clearance",
    "runup_checklist",
    "before_takeoff_checklist",
    "takeoff_clearance",
    "after_takeoff_checklist",
    "downwind_checklist",
    "landing_clearance",
    "before_landing_checklist",
    "runway_vacated",
    "after_landing_checklist",
    "shutdown_checklist",
    "secure_checklist",
]

Seen = tuple[str, str, Value]
"""When (the end of a step), which signal, and what it reads there with the slip and not without it."""

SEEN: dict[str, Seen] = {
    "pitot_cover_on": ("pilot.climb_flaps", "airspeed.captain", 0.0),
    "fuel_not_drained": ("pilot.walk_round", "fuel.drained", "no"),
    "right_tank_not_dipped": ("pilot.walk_round", "fuel.dipped.right", 0.0),
    "static_cover_on": ("pilot.doors", "parking.static_cover", "on"),
    "breaker_open": ("pilot.headset", "electrical.breakers_out", 1.0),
    "inlet_plugs_in": ("pilot.before_start", "parking.engine_cover", "on"),
    "fuel_cap_open": ("pilot.walk_round", "fuel.cap.left", "open"),
    "belt_open": ("pilot.before_start", "seat.right.belt", "open"),
    "seat_unlocked": ("tower.takeoff", "seat.left.lock", "unlocked"),
    "selector_right": ("pilot.before_start", "fuel.selector", "right"),
    "beacon_late": ("pilot.crank", "lights.beacon", "off"),
    "avionics_during_start": ("pilot.crank", "electrical.avionics.1", "on"),
    "primer_out": ("pilot.after_start", "engine.1.primer", "open"),
    "no_oil_pressure": ("pilot.rpm_1000+30", "engine.1.oil_pressure", 0.0),
    "alternator_off": ("pilot.after_start", "electrical.alternator.online", "no"),
    "altimeter_wrong": ("tower.takeoff", "altimeter.captain.setting", 1007.0),
    "squawk_wrong": ("tower.takeoff", "transponder.code", 4621.0),
    "taxi_early": ("pilot.ask_taxi", "gear.parking_brake", "released"),
    "runup_without_brake": ("pilot.runup", "gear.parking_brake", "released"),
    "trim_nose_up": ("tower.takeoff", "controls.elevator_trim", 45.0),
    "flaps_28_takeoff": ("tower.takeoff", "controls.flap.position", 28.0),
    "flaps_not_set": ("tower.takeoff", "controls.flap.position", 0.0),
    "pump_off_takeoff": ("tower.takeoff", "fuel.pump.auxiliary.switch", "off"),
    "selector_left": ("tower.takeoff", "fuel.selector", "left"),
    "mixture_lean": ("tower.takeoff", "engine.1.mixture", 60.0),
    "heat_left_on": ("tower.takeoff", "ice.carburettor", 100.0),
    "magneto_on_left": ("tower.takeoff", "engine.1.magnetos", "left"),
    "pitot_heat_off": ("tower.takeoff", "ice.pitot", "off"),
    "door_unlatched": ("tower.takeoff", "door.right", "open"),
    "window_open": ("tower.takeoff", "cockpit.window.left", "open"),
    "strobe_off": ("pilot.go", "lights.strobe", "off"),
    "transponder_standby": ("pilot.go", "transponder.mode", "standby"),
    "enters_early": ("pilot.report_ready", "gear.parking_brake", "released"),
    "brake_set_takeoff": ("pilot.go", "gear.parking_brake", "set"),
    "climb_flaps_left": ("pilot.after_takeoff", "controls.flap.position", 8.0),
    "climb_pump_left_on": ("pilot.after_takeoff", "fuel.pump.auxiliary.switch", "on"),
    "pump_off_landing": ("pilot.before_landing", "fuel.pump.auxiliary.switch", "off"),
    "brake_set_landing": ("pilot.before_landing", "gear.parking_brake", "set"),
    "mixture_lean_landing": ("pilot.before_landing", "engine.1.mixture", 55.0),
    "approach_without_heat": ("pilot.before_landing", "ice.carburettor", 0.0),
    "landing_flaps_16": ("pilot.before_landing+15", "controls.flap.position", 16.0),
    "flaps_left_down": ("pilot.after_landing", "controls.flap.lever", 28.0),
    "heat_left_on_taxi": ("pilot.after_landing", "ice.carburettor", 100.0),
    "strobe_left_on": ("pilot.after_landing", "lights.strobe", "on"),
    "transponder_left_on": ("pilot.after_landing", "transponder.mode", "altitude"),
    "avionics_left_on": ("pilot.magnetos_off", "electrical.avionics.1", "on"),
    "stopped_by_key": ("pilot.navigation_off+3", "engine.1.magnetos", "off"),
    "magnetos_left_on": ("pilot.secure", "engine.1.magnetos", "both"),
    "master_left_on": ("pilot.secure", "electrical.battery.switch", "on"),
    "lock_forgotten": ("pilot.secure", "controls.lock", "off"),
    "chocks_forgotten": ("pilot.secure", "gear.chocks", "removed"),
    "cover_forgotten": ("pilot.secure", "parking.pitot_cover", "removed"),
}

NEVER: dict[str, tuple[str, str, str]] = {
    "brakes_not_tried": ("gear.brake_pedal.left", "pilot.release", "pilot.taxi+7"),
    "right_magneto_not_tried": ("engine.1.magnetos", "pilot.magneto_left", "pilot.gauges"),
    "heat_not_tried": ("ice.carburettor", "pilot.magneto_right", "pilot.runup"),
    "elevator_not_swept": ("controls.elevator", "pilot.runup", "pilot.report_ready"),
    "rudder_not_swept": ("controls.rudder", "pilot.runup", "pilot.report_ready"),
}
"""Signals that rest between the ends of two steps with the slip, and move without it."""

ELSEWHERE = {
    "no_briefing",
    "no_downwind_checks",
    "heading_not_set",
    "cranks_40_s",
    "magneto_without_drop",
}
"""Slips that have a test of their own."""


@dataclass(frozen=True)
class Flown:
    """A finished flight: its moments twice a second, and the time of each step."""

    moments: list[FlightMoment]
    step_times_s: dict[str, float]
    recorded: list[str]

    def at(self, when: str) -> dict[str, Value]:
        """The state at the end of a step, or some seconds (`+N`) after it."""
        step, _, later = when.partition("+")
        sim_s = self.step_times_s[step] + float(later or 0.0)
        return self.moments[min(len(self.moments) - 1, int(sim_s * 2.0) + 1)].state

    def between(self, first: str, last: str) -> list[dict[str, Value]]:
        """The states from the end of one step to the end of another."""
        low, high = (
            self.moments.index(next(m for m in self.moments if m.state is self.at(w))) for w in (first, last)
        )
        return [moment.state for moment in self.moments[low : high + 1]]

    @property
    def calls(self) -> list[CrewCall]:
        """All calls."""
        return [call for moment in self.moments for call in moment.calls]


@cache
def catalogue() -> Scenario:
    """The circuit as written."""
    return Flight("circuit").scenario


@cache
def fly(*slips: str) -> Flown:
    """A flight with these slips, to its end, without noise."""
    flight = Flight("circuit", slips=slips, rate_hz=2, noise=False)
    return Flown(list(flight), flight.crew.step_times_s, [slip.id for slip in flight.slip_records()])


GROUPS = 6


@cache
def _groups() -> list[tuple[str, ...]]:
    """The catalogue in a few flights; no two slips of one flight share a step or a signal, so none hides another."""
    groups: list[dict[str, set[str]]] = [{} for _ in range(GROUPS)]
    for number, slip in enumerate(catalogue().slips):
        own = {slip.step, *slip.signals}
        order = [groups[(number + k) % GROUPS] for k in range(GROUPS)]
        chosen = next(group for group in order if not any(own & used for used in group.values()))
        chosen[slip.id] = own
    return [tuple(group) for group in groups]


def _group_of(name: str) -> tuple[str, ...]:
    return next(group for group in _groups() if name in group)


def test_the_clean_circuit_goes_from_parked_to_parked() -> None:
    """In 23 to 30 minutes: airborne once, about 1 000 ft high, back on the stand within metres, dark and covered."""
    flown = fly()
    first, last = flown.moments[0].state, flown.moments[-1].state
    assert 23 * 60 < flown.moments[-1].sim_s < 30 * 60
    grounds = [moment.state["flight.on_ground"] for moment in flown.moments]
    assert sum(before != after for before, after in pairwise(grounds)) == 2
    assert 950.0 < max(float(moment.state["flight.height"]) for moment in flown.moments) < 1080.0
    for name in ("flight.latitude", "flight.longitude"):
        assert float(last[name]) == pytest.approx(float(first[name]), abs=5e-5)
    same = (
        "electrical.battery.switch",
        "engine.1.magnetos",
        "controls.lock",
        "parking.pitot_cover",
        "gear.chocks",
    )
    assert {name: last[name] for name in same} == {name: first[name] for name in same}
    assert last["engine.1.rpm"] == 0.0
    assert float(last["fuel.total"]) < float(first["fuel.total"]) - 2.0


def test_the_clean_pilot_calls_everything_once_and_in_order() -> None:
    """Every call that is shared with the packs is made exactly once, in the order of the trade."""
    assert [call.name for call in fly().calls] == CALLS


def test_every_moment_is_valid() -> None:
    """Flown with noise, every signal of every moment is valid by the book."""
    for moment in Flight("circuit", seed=3, rate_hz=0.5):
        assert not_valid(moment.state) == []


def test_the_clean_pilot_is_a_good_pilot() -> None:
    """At each point of the flight the aeroplane is configured as the trade requires."""
    flown = fly()
    starting = flown.at("pilot.crank")
    assert (starting["lights.beacon"], starting["electrical.avionics.1"], starting["fuel.selector"]) == (
        "on",
        "off",
        "both",
    )
    assert (starting["controls.flap.position"], starting["gear.parking_brake"]) == (0.0, "set")
    assert flown.step_times_s["pilot.oil_pressure"] - flown.step_times_s["pilot.key_back"] < 10.0
    ready = flown.at("tower.takeoff")
    wanted = {
        "controls.flap.position": 8.0,
        "controls.elevator_trim": 0.0,
        "engine.1.mixture": 100.0,
        "ice.carburettor": 0.0,
        "engine.1.magnetos": "both",
        "fuel.selector": "both",
        "fuel.pump.auxiliary.switch": "on",
        "ice.pitot": "on",
        "door.left": "closed",
        "door.right": "closed",
        "gear.parking_brake": "set",
        "electrical.low_voltage": "off",
        "alert.oil_pressure": "off",
        "alert.vacuum": "off",
    }
    assert {name: ready[name] for name in wanted} == wanted
    assert abs(float(ready["altimeter.captain.altitude"]) - 380.0) < 20.0
    assert abs(float(ready["heading.captain"]) - float(ready["heading.standby"])) < 3.0
    landing = flown.at("pilot.before_landing+15")
    assert (landing["controls.flap.position"], landing["ice.carburettor"]) == (28.0, 100.0)
    assert abs(float(landing["flight.airspeed"]) - 63.0) < 5.0


def test_the_run_up_shows_its_drops() -> None:
    """At 1 700 to 1 900 rpm each magneto drops 50 to 125 rpm, carburettor heat drops too, suction and ammeter are good."""
    flown = fly()
    run = flown.between("pilot.runup_rpm", "pilot.gauges")
    by_key = {
        key: min(float(state["engine.1.rpm"]) for state in run if state["engine.1.magnetos"] == key)
        for key in ("left", "right")
    }
    full = float(flown.at("pilot.runup_rpm")["engine.1.rpm"])
    assert 1700.0 < full < 1900.0
    assert all(50.0 < full - low < 125.0 for low in by_key.values())
    hot = min(float(state["engine.1.rpm"]) for state in run if float(state["ice.carburettor"]) == 100.0)
    assert 40.0 < full - hot < 150.0
    good = flown.at("pilot.gauges")
    assert 4.5 < float(good["vacuum.suction"]) < 5.5
    assert float(good["electrical.ammeter"]) > 0.0
    idle = [float(state["engine.1.rpm"]) for state in flown.between("pilot.gauges", "pilot.fast_idle")]
    assert 550.0 < min(idle) < 750.0


def test_the_engine_is_stopped_by_the_mixture() -> None:
    """The engine runs through the grounding check and stops when the mixture is cut off."""
    flown = fly()
    assert flown.at("pilot.navigation_off")["engine.1.running"] == "yes"
    assert flown.at("pilot.magnetos_off")["engine.1.running"] == "no"


def test_every_slip_has_its_test() -> None:
    """The catalogue has at least sixteen slips over all phases, each with a test below; the demonstration uses eight of them."""
    names = {slip.id for slip in catalogue().slips}
    assert len(names) >= 16
    assert SEEN.keys() | NEVER.keys() | ELSEWHERE == names
    assert len(catalogue().demo) == 8


@pytest.mark.parametrize("name", SEEN)
def test_each_slip_shows_where_it_matters(name: str) -> None:
    """At the given moment the signal has the value of the slip, and another one in the clean flight; the slip is recorded."""
    when, signal, wrong = SEEN[name]
    flown = fly(*_group_of(name))
    assert name in flown.recorded
    assert flown.at(when)[signal] == wrong
    assert fly().at(when)[signal] != wrong


@pytest.mark.parametrize("name", NEVER)
def test_a_slip_leaves_its_control_at_rest(name: str) -> None:
    """Between two steps the signal does not change with the slip, and changes in the clean flight."""
    signal, first, last = NEVER[name]

    def travel(flown: Flown) -> int:
        return len(
            {
                round(value) if isinstance(value := state[signal], float) else value
                for state in flown.between(first, last)
            }
        )

    flown = fly(*_group_of(name))
    assert name in flown.recorded
    assert travel(flown) == 1
    assert travel(fly()) > 1


@pytest.mark.parametrize(
    ("name", "call"), [("no_briefing", "passenger_briefing"), ("no_downwind_checks", "downwind_checklist")]
)
def test_a_slip_omits_its_call(name: str, call: str) -> None:
    """The call is missing in the flight with the slip, and made in the clean flight."""
    flown = fly(*_group_of(name))
    assert name in flown.recorded
    assert call not in [each.name for each in flown.calls]


def test_a_heading_indicator_that_is_not_set_is_far_off() -> None:
    """At the take-off clearance gyro and compass differ by more than 20 degrees."""
    state = fly(*_group_of("heading_not_set")).at("tower.takeoff")
    off = (float(state["heading.captain"]) - float(state["heading.standby"]) + 180.0) % 360.0 - 180.0
    assert abs(off) > 20.0


def test_a_long_crank_is_seen() -> None:
    """The starter turns for 40 s without a break and the engine does not run; after a pause the engine starts."""
    flown = fly(*_group_of("cranks_40_s"))
    cranking = [moment.sim_s for moment in flown.moments if moment.state["engine.1.starter"] == "on"]
    longest = began = cranking[0]
    best = 0.0
    for now in cranking[1:]:
        began = began if now - longest < 0.8 else now
        longest, best = now, max(best, now - began)
    assert 38.0 <= best <= 42.0
    assert flown.at("pilot.after_start")["engine.1.running"] == "yes"


def test_an_ungrounded_magneto_gives_no_drop_in_the_run_up() -> None:
    """With the right magneto ungrounded the engine loses no speed with the key at left, and the pilot continues."""
    flown = fly(*_group_of("magneto_without_drop"))
    run = flown.between("pilot.runup_rpm", "pilot.magneto_left")
    full = float(run[0]["engine.1.rpm"])
    left = [float(state["engine.1.rpm"]) for state in run if state["engine.1.magnetos"] == "left"]
    assert left
    assert min(left) > full - 15.0


@pytest.mark.parametrize("group", range(GROUPS))
def test_a_pilot_who_slips_often_still_gets_home(group: int) -> None:
    """A flight with a sixth of the catalogue makes all of these slips and ends on the stand."""
    names = _groups()[group]
    flown = fly(*names)
    assert set(flown.recorded) == set(names)
    assert "secure_checklist" in [call.name for call in flown.calls]


def test_all_slips_at_once_still_end() -> None:
    """A flight with all slips of the catalogue ends."""
    assert set(fly("all").recorded) == {slip.id for slip in catalogue().slips}


def test_the_same_seed_gives_the_same_flight() -> None:
    """Two flights with one seed are equal to the last digit, with noise; another seed gives another flight."""

    def first_minutes(seed: int) -> list[FlightMoment]:
        return list(islice(Flight("circuit", seed=seed, rate_hz=2), 1000))

    one = first_minutes(7)
    assert one == first_minutes(7)
    assert first_minutes(8)[-1].state != one[-1].state
