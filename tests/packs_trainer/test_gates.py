"""Each gate by a scripted flight: no notices on a correct one, and the right finding for each error before the phase."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import pytest

from tests.packs_trainer.circuit_steps import CIRCUIT, E, before, since
from tests.packs_trainer.scripted_circuit import Changes, ScriptedCircuit

PHASES = [
    "parked", "before_start", "engine_start", "after_start", "taxi", "run_up", "before_takeoff", "line_up", "takeoff",
    "initial_climb", "cruise", "approach", "landing", "roll_out", "after_landing", "taxi_in", "shutdown", "dark",
    "secured",
]  # fmt: skip


class Case(NamedTuple):
    """An error at one gate, and all of its findings."""

    gate: str
    until: str
    wrong: Mapping[str, Changes]
    found: Mapping[str, str]
    missing_calls: tuple[str, ...] = ()


FLAPS = ("controls.flap.lever", "controls.flap.position")


def flaps(deg: float) -> Changes:
    """Lever and flaps at one angle."""
    return dict.fromkeys(FLAPS, deg)


CASES = {
    "walk-round": Case(
        "before_start", "cockpit",
        {
            "walk": {
                "parking.pitot_cover": "on", "parking.engine_cover": "on", "parking.tie_down.tail": "on",
                "fuel.dipped.right": 20.0, "fuel.drained": "no", "oil.dipstick": 3.0, "cabin.baggage": "loose",
                "parking.tow_bar": "attached", "fuel.cap.left": "open", "ice.airframe": "yes", "gear.tyres": "worn",
                f"{E}magnetos": "both", f"{E}mixture": 100.0, "fire.extinguisher": "discharged",
            },
        },
        {
            "flow.walkround.magnetos_off": "undone", "flow.walkround.mixture_cut_off": "undone",
            "flow.walkround.pitot_cover": "omitted", "flow.walkround.engine_plugs": "omitted",
            "flow.walkround.tie_downs.tail": "omitted", "flow.walkround.tow_bar": "undone",
            "flow.walkround.oil_quantity": "limit_exceeded", "flow.walkround.fuel_dipped.right": "wrong_value",
            "flow.walkround.fuel_sampled": "omitted", "flow.walkround.fuel_caps.left": "undone",
            "flow.walkround.no_ice": "undone", "flow.walkround.tyres": "undone",
            "flow.walkround.baggage": "omitted", "flow.walkround.extinguisher": "undone",
        },
    ),
    "before start": Case(
        "engine_start", "fires",
        {
            "walk": {"controls.lock": "on", "gear.chocks": "on"},
            "strap_in": {"door.right": "open", "seat.left.lock": "unlocked", "seat.right.belt": "open"},
            "cockpit": {
                "fuel.selector": "left", "fuel.shutoff": "closed", f"{E}mixture": 60.0, f"{E}throttle": 60.0,
                "electrical.battery.switch": "off", "lights.beacon": "off", "ice.carburettor": 100.0, **flaps(8.0),
                "electrical.avionics.2": "on", "electrical.breakers_out": 1.0, "propeller.area": "occupied",
                f"{E}primer": "open", "emergency.locator": "off", "gear.parking_brake": "released", "fuel.total": 60.0, "fuel.tank.left": 20.0,
            },
        },
        {
            "flow.before_start.control_lock": "omitted", "flow.before_start.chocks": "omitted",
            "flow.before_start.doors": "omitted", "flow.before_start.seat_lock": "omitted",
            "flow.before_start.passenger_belt": "omitted", "flow.before_start.selector": "wrong_value",
            "flow.before_start.shutoff": "undone", "flow.before_start.mixture_rich": "omitted",
            "flow.before_start.throttle_cracked": "wrong_value", "flow.before_start.battery": "omitted",
            "flow.before_start.beacon": "omitted", "flow.before_start.carburettor_cold": "undone",
            "flow.before_start.flaps_up": "undone", "flow.before_start.avionics_off.2": "undone",
            "flow.before_start.breakers": "undone", "flow.before_start.propeller_clear": "undone",
            "flow.before_start.primer": "undone", "flow.before_start.locator": "undone", "flow.before_start.brake_set": "undone",
            "flow.before_start.fuel_on_board": "wrong_value", "flow.before_start.fuel_balance": "limit_exceeded",
            "flow.before_start.briefing": "omitted", "watch.propeller_area": "limit_exceeded",
        },
        ("passenger_briefing",),
    ),
    "before-start checklist": Case(
        "engine_start", "fires", {}, {"flow.before_start.read_before_start": "omitted"}, ("before_start_checklist",),
    ),
    "start": Case(
        "after_start", "avionics",
        {"fires": {f"{E}magnetos": "left", f"{E}starter": "on", f"{E}rpm": 1900.0}},
        {
            "flow.engine_start.starter_released": "limit_exceeded", "flow.engine_start.magnetos": "wrong_value",
            "flow.engine_start.engine_speed": "limit_exceeded", "watch.starter_engaged": "limit_exceeded",
            "watch.racing_cold": "limit_exceeded",
        },
    ),
    "after start": Case(
        "taxi", "rolling",
        {
            "oil": {
                f"{E}oil_pressure": 15.0, "vacuum.suction": 2.0, "electrical.ammeter": -12.0,
                "electrical.low_voltage": "on",
            },
            "avionics": {
                "electrical.avionics.2": "off", "radio.headset": "off", "altimeter.captain.setting": 1007.0,
                "transponder.mode": "off", "transponder.code": 4621.0, "heading.captain": 90.0, **flaps(8.0),
            },
        },
        {
            "flow.after_start.oil_pressure": "limit_exceeded", "flow.after_start.suction": "limit_exceeded",
            "flow.after_start.ammeter": "limit_exceeded", "flow.after_start.low_voltage": "limit_exceeded",
            "flow.after_start.avionics_on.2": "omitted", "flow.after_start.headset": "omitted",
            "flow.after_start.altimeter_setting": "wrong_value", "flow.after_start.transponder_awake": "omitted",
            "flow.after_start.squawk": "wrong_value", "flow.after_start.gyro_set": "wrong_value",
            "flow.after_start.flaps_taxi": "undone", "flow.after_start.taxi_clearance": "too_early",
            "flow.after_start.read_after_start": "omitted",
        },
        ("taxi_clearance", "after_start_checklist"),
    ),
    "alternator": Case(
        "taxi", "rolling",
        {"oil": {"electrical.alternator.online": "no", "electrical.ammeter": -12.0, "electrical.low_voltage": "on"}},
        {"flow.after_start.alternator": "omitted"},
    ),
    "run-up": Case(
        "run_up", "left",
        {"stop": {
            "gear.parking_brake": "released", f"{E}mixture": 60.0, f"{E}oil_temperature": 10.0, "fuel.selector": "right",
        }},
        {
            "flow.run_up.brake_for_run_up": "omitted", "flow.run_up.mixture_for_run_up": "omitted",
            "flow.run_up.oil_warm": "too_early", "flow.before_start.selector": "undone",
        },
    ),
    "what the run-up shows": Case(
        "before_takeoff", "elevator_-100",
        {
            "power": {"vacuum.suction": 3.0, "electrical.ammeter": -1.0},
            "left": {f"{E}magnetos": "both"},
            "right": {f"{E}rpm": 1800.0},
            "heat": {"ice.carburettor": 0.0},
            "idle": {f"{E}throttle": 50.0, f"{E}rpm": 1800.0},
            "fast_idle": {f"{E}throttle": 50.0, f"{E}rpm": 1800.0},
        },
        {
            "flow.run_up_check.each_magneto": "wrong_value", "flow.run_up_check.drop_right": "limit_exceeded",
            "flow.run_up_check.carburettor_heat_works": "omitted", "flow.run_up_check.idle_check": "omitted",
            "flow.run_up_check.suction_at_power": "limit_exceeded",
            "flow.run_up_check.charging_at_power": "limit_exceeded",
        },
    ),
    "magneto drop": Case(
        "before_takeoff", "elevator_-100", {"left": {f"{E}rpm": 1500.0}},
        {"flow.run_up_check.drop_left": "limit_exceeded", "watch.magneto_difference": "limit_exceeded"},
    ),
    "before take-off": Case(
        "line_up", "full",
        {
            "elevator_-100": {"controls.elevator": -40.0, "controls.column": -40.0},
            "aileron_+100": {"controls.aileron": 60.0, "controls.wheel": 60.0},
            "rudder_+100": {"controls.rudder": 10.0, "controls.pedals": 10.0},
            "set": {
                **flaps(28.0), "controls.elevator_trim": 40.0, "fuel.pump.auxiliary.switch": "off", "ice.pitot": "off",
                f"{E}mixture": 60.0, f"{E}magnetos": "right", "fuel.selector": "left", "ice.carburettor": 100.0,
                "door.right": "open", "seat.left.belt": "open", "altimeter.captain.altitude": 480.0,
                "static.alternate": "open", f"{E}oil_pressure": 15.0, f"{E}oil_temperature": 130.0,
                "weather.wind_direction": 42.0, "weather.wind_speed": 20.0, "fuel.total": 20.0, "fuel.pressure": 0.0,
            },
        },
        {
            "flow.before_takeoff.elevator": "omitted", "flow.before_takeoff.aileron": "omitted",
            "flow.before_takeoff.rudder": "omitted", "flow.before_takeoff.flaps": "wrong_value",
            "flow.before_takeoff.trim": "wrong_value", "flow.before_takeoff.pump_on": "omitted",
            "flow.before_takeoff.pitot_heat_dry": "omitted", "flow.before_takeoff.mixture": "undone",
            "flow.before_takeoff.magnetos_both": "undone", "flow.before_start.selector": "undone",
            "flow.before_takeoff.carburettor": "undone", "flow.before_takeoff.doors_latched.rest": "undone",
            "flow.before_start.belts": "undone", "flow.before_takeoff.altimeter": "wrong_value",
            "flow.before_takeoff.static_source": "undone", "flow.before_takeoff.oil_before_takeoff": "limit_exceeded",
            "flow.before_takeoff.oil_temperature": "limit_exceeded", "flow.before_takeoff.crosswind": "limit_exceeded",
            "flow.before_takeoff.fuel_enough": "limit_exceeded", "flow.before_takeoff.fuel_pressure": "limit_exceeded",
            "watch.oil_pressure_low": "aeroplane_event", "watch.oil_temperature_high": "limit_exceeded",
        },
    ),
    "pitot heat in moist cold air": Case(
        "line_up", "full",
        {"set": {"ice.pitot": "off", "flight.outside_air_temperature": 2.0, "weather.visible_moisture": "yes"}},
        {"flow.before_takeoff.pitot_heat": "omitted"},
    ),
    "line-up": Case(
        "takeoff", "rotate",
        {
            "lights": {"lights.strobe": "off", "lights.landing.left": "off", "transponder.mode": "standby"},
            "full": {"gear.parking_brake": "set", "flight.heading": 340.0},
        },
        {
            "flow.line_up.strobe": "omitted", "flow.line_up.landing_light": "omitted",
            "flow.line_up.transponder": "omitted", "flow.line_up.brake_off": "omitted",
            "flow.line_up.runway_heading": "wrong_value", "watch.roll_heading": "limit_exceeded",
        },
    ),
    "no clearance": Case(
        "takeoff", "rotate", {},
        {"watch.runway_entered": "too_early", "flow.line_up.clearance": "omitted"},
        ("takeoff_clearance",),
    ),
    "roll": Case(
        "initial_climb", "climb_400", {"roll_30": {f"{E}oil_pressure": 15.0}, "rotate": {"airspeed.captain": 30.0}},
        {
            "flow.takeoff.oil_in_roll": "limit_exceeded", "flow.takeoff.airspeeds": "wrong_value",
            "watch.oil_pressure_low": "aeroplane_event",
        },
    ),
    "after take-off": Case(
        "cruise", "pump",
        {
            "climb_400": {"controls.flap.lever": 8.0, "controls.flap.position": 8.0, "vacuum.suction": 4.0},
            "climb_700": {"fuel.pump.auxiliary.switch": "on", "transponder.mode": "on"},
        },
        {
            "flow.initial_climb.flaps_by_height": "omitted", "flow.climb.climb_pump_off": "omitted",
            "flow.climb.climb_suction": "limit_exceeded", "flow.climb.read_after_takeoff": "omitted",
            "flow.line_up.transponder": "omitted",
        },
        ("after_takeoff_checklist",),
    ),
    "downwind": Case(
        "approach", "final",
        {
            "pump": {
                "fuel.pump.auxiliary.switch": "off", f"{E}mixture": 60.0, "fuel.selector": "right", "seat.right.belt": "open",
                "gear.parking_brake": "set", "altimeter.captain.setting": 1000.0, "lights.landing.left": "off",
            },
            "heat_first": {"ice.carburettor": 0.0},
        },
        {
            "flow.downwind.approach_pump": "omitted", "flow.downwind.approach_mixture": "undone",
            "flow.before_start.selector": "undone", "flow.before_start.passenger_belt": "undone",
            "flow.downwind.approach_brake": "undone", "flow.after_start.altimeter_setting": "wrong_value",
            "flow.line_up.landing_light": "omitted", "flow.downwind.approach_carburettor": "omitted",
            "flow.downwind.read_downwind": "omitted",
        },
        ("downwind_checklist",),
    ),
    "final": Case(
        "landing", "flare",
        {
            "final": {**flaps(16.0), "flight.airspeed": 79.0, "flight.heading": 280.0},
            "final_250": {"flight.vertical_speed": -1300.0},
            "final_120": {"flight.bank": 25.0},
        },
        {
            "flow.before_landing.landing_flaps": "wrong_value", "flow.before_landing.final_speed": "limit_exceeded",
            "flow.before_landing.landing_runway": "wrong_value", "flow.before_landing.sink_rate": "limit_exceeded",
            "flow.before_landing.final_bank": "limit_exceeded", "flow.before_landing.landing_clearance": "omitted",
            "flow.before_landing.read_before_landing": "omitted",
        },
        ("landing_clearance", "before_landing_checklist"),
    ),
    "touchdown": Case(
        "roll_out", "slow",
        {"flare": {f"{E}throttle": 40.0, "flight.bank": 14.0, "flight.pitch": -4.0}},
        {
            "flow.touchdown.throttle_closed": "limit_exceeded", "flow.touchdown.wings_level": "limit_exceeded",
            "flow.touchdown.nose_up": "limit_exceeded",
        },
    ),
    "after landing": Case(
        "taxi_in", "park",
        {"tidy": {
            **flaps(28.0), "ice.carburettor": 100.0, "lights.strobe": "on", "lights.landing.left": "on",
            "fuel.pump.auxiliary.switch": "on", "ice.pitot": "on", "transponder.mode": "altitude",
            "controls.elevator_trim": 40.0,
        }},
        {
            "flow.after_landing.flaps_after_landing": "omitted", "flow.after_landing.carburettor_after_landing": "omitted",
            "flow.after_landing.strobe_after_landing": "omitted", "flow.after_landing.landing_light_after": "omitted",
            "flow.after_landing.pump_off": "omitted", "flow.after_landing.pitot_heat_off": "omitted",
            "flow.after_landing.transponder_after_landing": "wrong_value", "flow.after_landing.trim_after_landing": "omitted",
        },
    ),
    "stand": Case(
        "shutdown", "key_out",
        {
            "park": {"gear.parking_brake": "released"}, "avionics_off": {"electrical.avionics.1": "on"},
            "cut": {f"{E}throttle": 50.0},
        },
        {
            "flow.stand.stand_brake": "omitted", "flow.stand.avionics_first.1": "omitted",
            "flow.stand.throttle_for_stop": "undone",
        },
    ),
    "shutdown": Case(
        "dark", "leave",
        {
            "key_out": {f"{E}magnetos": "both", "lights.beacon": "on", "lights.navigation": "on"},
            "master_off": {"electrical.alternator.switch": "on"},
        },
        {
            "flow.shutdown.magnetos_last": "wrong_value", "flow.shutdown.beacon_off": "omitted",
            "flow.shutdown.lights_out": "undone", "flow.shutdown.alternator_off": "omitted",
        },
    ),
    "secure": Case(
        "secured", "",
        {"leave": {
            "controls.lock": "off", "gear.chocks": "removed", "parking.pitot_cover": "removed",
            "parking.tie_down.left": "removed",
        }},
        {
            "flow.secure.lock_in": "omitted", "flow.secure.chocks_in": "omitted", "flow.secure.pitot_covered": "omitted",
            "flow.secure.tied_down.left": "omitted", "flow.secure.read_shutdown": "omitted",
        },
        ("shutdown_checklist",),
    ),
}  # fmt: skip


@pytest.fixture(scope="module")
def correct() -> ScriptedCircuit:
    """The circuit without an error."""
    return ScriptedCircuit().fly(CIRCUIT)


def test_correct_circuit_has_no_findings(correct: ScriptedCircuit) -> None:
    """From parked to parked every phase comes in its order, without findings and notices."""
    assert correct.phases == PHASES
    assert correct.found == {}
    assert correct.notice_sentences == []


def test_every_expectation_can_be_met(correct: ScriptedCircuit) -> None:
    """Each item of a circuit without a go-around is met at some time of the correct flight."""
    met = {getattr(entry, "item", "") for entry in correct.entries if getattr(entry, "verdict", "") == "met"}
    assert {item for item in correct.pack.items if item not in met} == set()


@pytest.mark.parametrize("name", CASES)
def test_error_is_found_at_its_gate(name: str) -> None:
    """Each error gives its finding by the time the phase begins, and no other."""
    case = CASES[name]
    flight = ScriptedCircuit().fly(CIRCUIT, case.wrong, until=case.until, missing_calls=case.missing_calls)
    assert flight.found == dict(case.found)
    entered_s = flight.entered_s(case.gate)
    assert all(f.sim_s <= entered_s for f in flight.judge.findings if f.item.startswith("flow."))


def test_flaps_before_the_runway_is_vacated_are_too_early() -> None:
    """Flaps that are raised in the landing roll are too early."""
    flight = ScriptedCircuit().fly(CIRCUIT, {"slow": flaps(0.0)}, until="tidy")
    assert flight.found == {"flow.after_landing.flaps_after_landing": "too_early"}


def test_stopped_by_the_key() -> None:
    """An engine that is stopped by the key, not by the mixture, is out of order."""
    flight = ScriptedCircuit().fly(
        CIRCUIT, {"cut": {f"{E}mixture": 100.0}, "stopped": {f"{E}magnetos": "off"}}, until="key_out"
    )
    assert flight.found == {"watch.stopped_by_mixture": "out_of_order"}


def test_a_magneto_grounding_test_is_no_engine_stop() -> None:
    """A short cut of the ignition at idle changes no phase and is no error."""
    flight = ScriptedCircuit().fly(before("avionics_off"))
    flight.send({f"{E}magnetos": "off", f"{E}running": "no", f"{E}rpm": 700.0})
    flight.send({f"{E}magnetos": "both", f"{E}running": "yes", f"{E}rpm": 1000.0})
    flight.fly(since("avionics_off"))
    assert flight.phases == PHASES
    assert flight.found == {}
