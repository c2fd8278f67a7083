"""Each watch by a scripted flight: its own finding when its limit is exceeded."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from tests.packs_trainer.circuit_steps import CIRCUIT, E, before
from tests.packs_trainer.scripted_circuit import Changes, ScriptedCircuit, Step

AIRBORNE: Mapping[str, Changes] = {
    "oil_pressure_low": {f"{E}oil_pressure": 15.0},
    "oil_pressure_high": {f"{E}oil_pressure": 110.0},
    "oil_light": {"alert.oil_pressure": "on"},
    "oil_temperature_high": {f"{E}oil_temperature": 125.0},
    "head_temperature": {f"{E}cht": 260.0},
    "engine_overspeed": {f"{E}rpm": 3000.0},
    "magnetos_in_flight": {f"{E}magnetos": "left"},
    "pitot_heat_in_flight": {
        "ice.pitot": "off", "weather.visible_moisture": "yes", "flight.outside_air_temperature": 1.0,
    },
    "carburettor_ice": {f"{E}rpm": 1700.0, "weather.visible_moisture": "yes"},
    "airframe_ice": {"ice.airframe": "yes"},
    "fuel_imbalance": {"fuel.tank.left": 20.0},
    "fuel_reserve": {"fuel.total": 12.0},
    "fuel_lights.left": {"alert.fuel.left": "on"},
    "fuel_lights.right": {"alert.fuel.right": "on"},
    "selector_in_flight": {"fuel.selector": "off"},
    "mixture_in_flight": {f"{E}mixture": 0.0},
    "alternator_switched_off": {"electrical.alternator.switch": "off", "electrical.low_voltage": "on"},
    "low_voltage": {"electrical.low_voltage": "on"},
    "suction_light": {"alert.vacuum": "on"},
    "door_in_flight": {"door.right": "open"},
    "never_exceed": {"flight.airspeed": 160.0},
    "flap_speed": {"flight.airspeed": 95.0, "controls.flap.position": 16.0},
    "first_flap_speed": {"flight.airspeed": 115.0, "controls.flap.position": 8.0},
    "stall_warning": {"alert.stall": "on"},
    "bank_low": {"flight.bank": -40.0},
    "pitch": {"flight.pitch": 30.0},
    "belts_in_flight": {"seat.left.belt": "open"},
    "beacon_with_engine": {"lights.beacon": "off"},
    "gyro_drift": {"heading.captain": 160.0},
    "engine_out": {f"{E}running": "no"},
}  # fmt: skip
"""What makes each of them speak, level in the circuit."""

ELSEWHERE: Mapping[str, tuple[str, Changes, float]] = {
    "oil_within_30_s": ("oil", {}, 30.0),
    "long_cranking": ("fires", {}, 30.0),
    "moving_brake": ("rolling", {"gear.parking_brake": "set", "flight.ground_speed": 5.0}, 4.0),
    "taxi_speed": ("stop", {"flight.ground_speed": 20.0}, 4.0),
    "brakes_tried": ("roll", {"flight.ground_speed": 9.0}, 3.0),
    "run_up_moving": ("left", {"flight.ground_speed": 4.0, "gear.parking_brake": "released"}, 2.0),
    "elevator_follows": ("ready", {"controls.column": 60.0, "controls.elevator": -60.0}, 2.0),
    "aileron_follows": ("ready", {"controls.wheel": 60.0, "controls.aileron": -60.0}, 2.0),
    "rudder_follows": ("ready", {"controls.pedals": 60.0, "controls.rudder": -60.0}, 2.0),
    "static_rpm": ("roll_30", {f"{E}rpm": 1950.0}, 6.0),
    "airspeed_alive": ("rotate", {"flight.ground_speed": 40.0, "airspeed.captain": 0.0}, 2.0),
    "roll_heading": ("rotate", {"flight.heading": 350.0}, 2.0),
    "sinking_after_takeoff": ("climb_400", {"flight.vertical_speed": -400.0}, 4.0),
    "turn_after_takeoff": ("climb_400", {"flight.bank": 25.0}, 4.0),
    "engine_running_master": ("park", {"electrical.battery.switch": "off"}, 3.0),
    "bank": ("climb_400", {"flight.height": 1300.0, "flight.bank": 50.0}, 3.0),
}
"""By watch: the step before which it is tested, the wrong values, and for how long, in s."""

AT_GATES = {
    "starter_engaged", "racing_cold", "runway_entered", "stopped_by_mixture", "propeller_area", "magneto_difference",
}  # fmt: skip
"""These have cases in `test_gates`."""


def watches(flight: ScriptedCircuit) -> set[str]:
    """Watches with findings."""
    return {f.item.removeprefix("watch.") for f in flight.judge.findings if f.item.startswith("watch.")}


def test_every_watch_has_a_case() -> None:
    """Each watch of the pack has a case, here or on another day."""
    assert {watch.id.removeprefix("watch.") for watch in ScriptedCircuit().pack.watches} == {
        *AIRBORNE,
        *ELSEWHERE,
        *AT_GATES,
        "flaps_in_before_inspection",  # its case: tests/other_days/slush_and_packs.yaml
    }


def test_each_watch_in_flight_is_found() -> None:
    """Each watch is found alone when its limit is exceeded, and its finding closes when the values are right."""
    flight = ScriptedCircuit().fly(CIRCUIT, until="pump")
    flight.fly([Step("steady", 60, {})])
    for name, wrong in AIRBORNE.items():
        right = {signal: flight.state[signal] for signal in wrong}
        already = watches(flight)
        flight.fly([Step(name, 50 if name == "gyro_drift" else 14, wrong)])
        assert watches(flight) - already == {name}
        assert flight.finding(f"watch.{name}").closed_s is None
        flight.fly([Step("steady", 32 if name == "bank_low" else 4, right)])
        assert flight.finding(f"watch.{name}").closed_s is not None


@pytest.mark.parametrize("name", ELSEWHERE)
def test_each_other_watch_is_found(name: str) -> None:
    """Each watch outside the flight is found where it applies, and no other watch with it."""
    step, wrong, for_s = ELSEWHERE[name]
    flight = ScriptedCircuit().fly(before(step)).fly([Step("wrong", for_s + 1, wrong)])
    assert watches(flight) == {name}


def test_oil_pressure_may_take_29_s() -> None:
    """Oil pressure that comes within thirty seconds of the start is no finding."""
    flight = (
        ScriptedCircuit()
        .fly(before("oil"))
        .fly([Step("waits", 26, {}), Step("comes", 3, {f"{E}oil_pressure": 60.0})])
    )
    assert flight.found == {}


def test_magnetos_50_rpm_apart_are_reported_at_once() -> None:
    """Drops of 60 and 130 rpm are each within limits, and found on the second magneto; 90 and 120 are not."""
    for left, right, expected in (
        (1740.0, 1670.0, {"magneto_difference"}),
        (1670.0, 1740.0, {"magneto_difference"}),
        (1710.0, 1680.0, set()),
    ):
        wrong = {"left": {f"{E}rpm": left}, "right": {f"{E}rpm": right}}
        flight = ScriptedCircuit().fly(CIRCUIT, wrong, until="run_up")
        assert watches(flight) == expected
