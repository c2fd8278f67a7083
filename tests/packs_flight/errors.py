"""Errors before each gate of the flight: the signals, the item that shows it, the kind of the finding.

Takes: nothing.  Gives: `ERRORS`, by gate.
"""

from __future__ import annotations

from dataclasses import dataclass

from rules.signals.model import Value
from tests.packs_flight.recorded_sector import Change, State


@dataclass(frozen=True)
class Error:
    """Wrong values of signals, or calls that are left out."""

    item: str
    kind: str
    change: Change | None = None
    calls_left_out: tuple[str, ...] = ()


def off(name: str, by: float) -> Change:
    """Offset of a signal from its right value."""

    def change(_: float, state: State) -> dict[str, Value]:
        value = state[name]
        assert not isinstance(value, str)
        return {name: value + by}

    return change


def dead_airspeeds(_: float, state: State) -> dict[str, Value]:
    """Both airspeeds are 30 kt too low: they agree, and both are wrong."""
    speed = state["flight.ground_speed"]
    assert not isinstance(speed, str)
    low = max(0.0, speed - 30.0)
    return {"airspeed.captain": low, "airspeed.first_officer": low, "airspeed.standby": low}


def accelerate_slowly(_: float, state: State) -> dict[str, Value]:
    """The speeds of the roll grow at half their rate."""
    names = (
        "flight.ground_speed",
        "flight.airspeed",
        "airspeed.captain",
        "airspeed.first_officer",
        "airspeed.standby",
    )
    values = {n: state[n] for n in names}
    return {n: 30.0 + (v - 30.0) * 0.5 for n, v in values.items() if not isinstance(v, str) and v > 30.0}


def sinking(_: float, __: State) -> dict[str, Value]:
    """A descent at 1 300 ft/min."""
    return {"flight.vertical_speed": -1300.0}


ROLL = "flow.takeoff_roll."
INITIAL = "flow.initial_climb."
AFTER = "flow.after_takeoff."
CLIMB = "flow.climb."
PREPARED = "flow.descent_preparation."
APPROACH = "flow.approach."
LANDING = "flow.landing_configuration."
STABLE = "flow.stabilised_500."
IN = "flow.after_landing."
PARKING = "flow.parking."
SECURE = "flow.secure."

ERRORS: dict[str, list[Error]] = {
    "high_speed": [
        Error(ROLL + "thrust.1", "limit_exceeded", {"engine.1.n1": 86.0}),
        Error(ROLL + "thrust.2", "limit_exceeded", {"engine.1.n1": 81.5, "engine.2.n1": 81.5}),
        Error(ROLL + "thrust_even", "limit_exceeded", {"engine.2.n1": 97.5}),
        Error(ROLL + "thrust_mode", "omitted", {"autoflight.thrust_mode": "off"}),
        Error(ROLL + "brake_released", "omitted", {"gear.parking_brake": "set"}),
        Error(ROLL + "acceleration", "limit_exceeded", accelerate_slowly),
        Error(ROLL + "roll_heading", "wrong_value", {"flight.heading": 183.0}),
        Error(ROLL + "roll_lock", "omitted", {"controls.lock": "on"}),
        Error(
            ROLL + "elevator_follows", "limit_exceeded", {"controls.column": 60.0, "controls.elevator": 0.0}
        ),
        Error(ROLL + "alive_captain", "limit_exceeded", {"airspeed.captain": 0.0}),
        Error(ROLL + "alive_first_officer", "limit_exceeded", {"airspeed.first_officer": 20.0}),
        Error(ROLL + "airspeeds_agree", "limit_exceeded", off("airspeed.first_officer", -12.0)),
        Error(ROLL + "standby_agrees", "limit_exceeded", off("airspeed.standby", -18.0)),
        Error(ROLL + "airspeed_and_ground", "limit_exceeded", dead_airspeeds),
        Error(ROLL + "reversers_stowed.2", "limit_exceeded", {"engine.2.reverser": "transit"}),
    ],
    "climb": [
        Error(INITIAL + "climb_speed", "limit_exceeded", {"flight.airspeed": 126.0}),
        Error(INITIAL + "first_heading", "wrong_value", {"flight.heading": 200.0}),
        Error(INITIAL + "height_and_altitude", "wrong_value", off("altimeter.captain.altitude", 420.0)),
        Error(INITIAL + "gear_up", "omitted", {"gear.lever": "down"}),
        Error(INITIAL + "flaps_by_schedule", "omitted", {"flight.airspeed": 216.0}),
    ],
    "high_climb": [
        Error(AFTER + "speedbrake_stowed.rest", "omitted", {"controls.speedbrake.lever": "half"}),
        Error(AFTER + "autobrake_off", "omitted", {"gear.autobrake": "reject"}),
        Error(AFTER + "yaw_damper", "omitted", {"autoflight.yaw_damper": "off"}),
        Error("flow.initial_climb.gear_legs.left", "omitted", {"gear.left.position": 40.0}),
        Error(AFTER + "flaps_up", "omitted", {"controls.flap.lever": 4.0}),
        Error(AFTER + "slats_in", "omitted", {"controls.slat.position": "extended"}),
        Error(
            AFTER + "packs_in_climb.left",
            "omitted",
            {"air.pack.left.switch": "off", "air.pack.right.switch": "off"},
        ),
        Error(AFTER + "bleeds_in_climb.2", "omitted", {"bleed.engine.2.switch": "off"}),
        Error(AFTER + "duct_in_climb", "limit_exceeded", {"bleed.duct.left": 3.0}),
        Error(AFTER + "mode_in_climb", "omitted", {"cabin.mode": "manual"}),
        Error(AFTER + "outflow_in_climb", "limit_exceeded", {"cabin.outflow_valve": 80.0}),
        Error(AFTER + "cabin_follows", "limit_exceeded", {"cabin.differential": 0.1}),
        Error(AFTER + "cabin_low", "limit_exceeded", {"cabin.altitude": 8600.0}),
        Error(AFTER + "apu_in_climb", "omitted", {"apu.switch": "on"}),
        Error(AFTER + "cautions_after_takeoff", "omitted", {"alert.stored_count": 2.0}),
        Error(AFTER + "after_takeoff_read", "omitted", calls_left_out=("after_takeoff_checklist",)),
    ],
    "cruise": [
        Error(CLIMB + "landing_lights_off.left", "omitted", {"lights.landing.left": "on"}),
        Error(CLIMB + "taxi_lights_off.rest", "omitted", {"lights.taxi": "on"}),
        Error(CLIMB + "cabin_in_climb", "limit_exceeded", {"cabin.differential": 1.0}),
        Error(CLIMB + "fuel_in_climb", "limit_exceeded", {"fuel.total": 2500.0}),
        Error(
            CLIMB + "ice_in_climb.1",
            "omitted",
            {"flight.outside_air_temperature": -12.0, "weather.visible_moisture": "yes"},
        ),
    ],
    "descent": [
        Error("flow.cruise.cruise_check", "omitted", calls_left_out=("cruise_check",)),
        Error("flow.cruise.cruise_balance", "limit_exceeded", off("fuel.tank.left", 700.0)),
        Error("flow.cruise.cruise_crossfeed", "omitted", {"fuel.crossfeed": "open"}),
        Error("flow.cruise.cruise_cabin", "limit_exceeded", {"cabin.altitude": 8600.0}),
        Error("flow.cruise.cruise_fuel_temperature", "limit_exceeded", {"fuel.temperature": -39.0}),
        Error("flow.cruise.cruise_oil.2", "limit_exceeded", {"engine.2.oil_quantity": 22.0}),
        Error(PREPARED + "arrival_briefing", "omitted", calls_left_out=("descent_briefing",)),
        Error(PREPARED + "arrival_read", "omitted", calls_left_out=("descent_checklist",)),
        Error(PREPARED + "arrival_runway", "wrong_value", {"management.runway": "09"}),
        Error(PREPARED + "minimums_captain", "omitted", {"minimums.captain": 480.0}),
        Error(PREPARED + "landing_autobrake", "omitted", {"gear.autobrake": "off"}),
        Error(PREPARED + "vref", "omitted", {"speeds.vref": 118.0}),
        Error(PREPARED + "vref_set", "omitted", {"speeds.vref": 0.0}),
        Error(PREPARED + "minimums_first_officer", "omitted", {"minimums.first_officer": 480.0}),
        Error(PREPARED + "arrival_elevation", "wrong_value", {"cabin.arrival_elevation": 210.0}),
        Error(PREPARED + "arrival_fuel", "limit_exceeded", {"fuel.total": 2100.0}),
        Error(PREPARED + "cautions_before_descent", "omitted", {"alert.stored_count": 1.0}),
    ],
    "approach": [
        Error(APPROACH + "qnh_captain", "omitted", {"altimeter.captain.setting": 1009.0}),
        Error(APPROACH + "qnh_world", "wrong_value", {"weather.qnh": 994.0}),
        Error(APPROACH + "qnh_world_first_officer", "wrong_value", {"weather.qnh": 994.0}),
        Error(APPROACH + "approach_belts", "omitted", {"lights.seat_belts": "off"}),
        Error(APPROACH + "approach_speed", "limit_exceeded", {"flight.airspeed": 290.0}),
        Error(APPROACH + "approach_course", "wrong_value", {"autoflight.course.left": 143.0}),
        Error(APPROACH + "qnh_first_officer", "omitted", {"altimeter.first_officer.standard": "yes"}),
        Error(APPROACH + "qnh_standby", "omitted", {"altimeter.standby.setting": 1013.25}),
        Error(APPROACH + "approach_altimeters", "limit_exceeded", off("altimeter.captain.altitude", 100.0)),
        Error(APPROACH + "approach_aid", "omitted", {"navigation.frequency.1": 113.9}),
        Error(APPROACH + "approach_ident", "wrong_value", {"navigation.ident.1": "XYZ"}),
        Error(APPROACH + "approach_landing_lights.right", "omitted", {"lights.landing.right": "off"}),
        Error(APPROACH + "hydraulic_pressure_arrival.2", "limit_exceeded", {"hydraulics.2.pressure": 1100.0}),
        Error(APPROACH + "hydraulic_pumps_arrival.1", "omitted", {"hydraulics.1.pump.engine.switch": "off"}),
        Error(APPROACH + "hydraulic_quantity_arrival.1", "limit_exceeded", {"hydraulics.1.quantity": 40.0}),
        Error(
            APPROACH + "approach_ice.1",
            "omitted",
            {"flight.outside_air_temperature": 2.0, "weather.visible_moisture": "yes", "ice.engine.1": "off"},
        ),
        Error(APPROACH + "approach_balance", "limit_exceeded", off("fuel.tank.left", 700.0)),
        Error(APPROACH + "approach_checklist_read", "omitted", calls_left_out=("approach_checklist",)),
    ],
    "final": [
        Error(LANDING + "landing_gear_lever", "omitted", {"gear.lever": "up"}),
        Error(LANDING + "landing_gear.nose", "omitted", {"gear.nose.locked": "no"}),
        Error(LANDING + "landing_gear.left", "omitted", {"gear.left.locked": "no"}),
        Error(LANDING + "landing_gear.right", "omitted", {"gear.right.locked": "no"}),
        Error(LANDING + "landing_spoilers", "omitted", {"controls.speedbrake.lever": "stowed"}),
        Error(LANDING + "landing_call", "omitted", calls_left_out=("landing_checklist",)),
        Error(
            LANDING + "landing_flap_lever",
            "omitted",
            {"controls.flap.lever": 20.0, "controls.flap.position": 20.0},
        ),
        Error(
            LANDING + "landing_flap_more",
            "wrong_value",
            {"controls.flap.lever": 36.0, "controls.flap.position": 36.0},
        ),
        Error(LANDING + "landing_flaps", "omitted", {"controls.flap.position": 33.0}),
        Error(LANDING + "landing_flaps_set", "omitted", {"controls.flap.position": 12.0}),
        Error(LANDING + "landing_slats", "omitted", {"controls.slat.position": "transit"}),
        Error(LANDING + "landing_cabin", "omitted", {"cabin.ready": "no"}),
        Error(LANDING + "landing_height", "wrong_value", off("altimeter.captain.altitude", 620.0)),
        Error("flow.approach.qnh_world", "wrong_value", {"weather.qnh": 994.0}),
        Error(
            "flow.stabilised.path_glide",
            "limit_exceeded",
            {"weather.visibility": 2000.0, "navigation.glide_path": 1.6},
        ),
        Error(
            "flow.stabilised.path_localizer",
            "limit_exceeded",
            {"weather.visibility": 2000.0, "navigation.localizer": -1.6},
        ),
        Error(
            "flow.stabilised.speed_1000",
            "limit_exceeded",
            {"weather.visible_moisture": "yes", "flight.airspeed": 158.0},
        ),
        Error(
            "flow.stabilised.sink_1000",
            "limit_exceeded",
            {"weather.visible_moisture": "yes", "flight.vertical_speed": -1400.0},
        ),
        Error(
            "flow.stabilised.thrust_1000",
            "limit_exceeded",
            {"weather.visibility": 2000.0, "engine.1.n1": 24.0, "engine.2.n1": 24.0},
        ),
    ],
    "short_final": [
        Error(STABLE + "glide_path", "limit_exceeded", {"navigation.glide_path": -1.4}),
        Error(STABLE + "localizer", "limit_exceeded", {"navigation.localizer": 1.4}),
        Error(STABLE + "speed_high", "limit_exceeded", {"flight.airspeed": 156.0}),
        Error(STABLE + "speed_low", "limit_exceeded", {"flight.airspeed": 119.0}),
        Error(STABLE + "wings_level", "limit_exceeded", {"flight.bank": -18.0}),
        Error(STABLE + "runway_near", "wrong_value", off("flight.latitude", 0.1)),
        Error(STABLE + "runway_beside", "wrong_value", off("flight.latitude", 0.003)),
        Error(STABLE + "runway_ahead", "wrong_value", {"flight.heading": 88.0}),
        Error(STABLE + "sink_rate", "limit_exceeded", sinking),
        Error(STABLE + "thrust_spooled", "limit_exceeded", {"engine.1.n1": 24.0, "engine.2.n1": 24.0}),
        Error(STABLE + "pitch_small", "limit_exceeded", {"flight.pitch": -5.0}),
        Error(STABLE + "speeds_on_final", "limit_exceeded", off("airspeed.first_officer", -14.0)),
    ],
    "landing": [
        Error("flow.touchdown.landing_clearance", "omitted", calls_left_out=("landing_clearance",)),
        Error("flow.touchdown.no_speedbrake", "limit_exceeded", {"controls.speedbrake.lever": "full"}),
        Error("flow.touchdown.brakes_free.right", "limit_exceeded", {"gear.brake_pedal.right": 40.0}),
        Error("flow.touchdown.brake_off", "omitted", {"gear.parking_brake": "set"}),
    ],
    "taxi_in": [
        Error("flow.landing_roll.levers_idle_in_roll.1", "omitted", {"engine.1.thrust_lever": 25.0}),
        Error("flow.landing_roll.reversers_away.1", "omitted", {"engine.1.reverser": "deployed"}),
    ],
    "parked": [
        Error(IN + "speedbrake_stowed_in", "omitted", {"controls.speedbrake.lever": "full"}),
        Error(IN + "strobes_off", "omitted", {"lights.strobe": "on"}),
        Error(IN + "radar_off", "omitted", {"weather_radar": "on"}),
        Error(IN + "taxi_light_in", "omitted", {"weather.night": "yes", "lights.taxi": "off"}),
        Error(IN + "flaps_retracted", "omitted", {"controls.flap.lever": 20.0}),
        Error(IN + "flaps_followed", "omitted", {"controls.flap.position": 8.0}),
        Error(IN + "slats_retracted", "omitted", {"controls.slat.position": "extended"}),
        Error(IN + "landing_lights_in.left", "omitted", {"lights.landing.left": "on"}),
        Error(IN + "transponder_in", "omitted", {"transponder.mode": "ta_ra"}),
        Error(IN + "autobrake_in", "omitted", {"gear.autobrake": "medium"}),
        Error(
            IN + "engine_anti_ice_in.1",
            "omitted",
            {"flight.outside_air_temperature": 20.0, "ice.engine.1": "on"},
        ),
        Error(IN + "wing_anti_ice_in", "omitted", {"ice.wing": "on"}),
        Error(IN + "outflow_open", "limit_exceeded", {"cabin.differential": 0.28}),
        Error(IN + "after_landing_read", "omitted", calls_left_out=("after_landing_checklist",)),
    ],
    "shutdown": [
        Error(
            "flow.shut_down_ready.stand_brake",
            "omitted",
            {"gear.parking_brake": "released", "gear.chocks": "removed"},
        ),
        Error("flow.shut_down_ready.stand_levers.1", "omitted", {"engine.1.thrust_lever": 12.0}),
        Error(
            "flow.shut_down_ready.stand_power",
            "omitted",
            {
                "apu.available": "no",
                "electrical.generator.apu.online": "no",
                "electrical.external.available": "no",
            },
        ),
        Error("flow.shut_down_ready.stand_reversers.1", "omitted", {"engine.1.reverser": "transit"}),
    ],
    "secure": [
        Error(PARKING + "parking_beacon", "omitted", {"lights.beacon": "on"}),
        Error(PARKING + "parking_belts", "omitted", {"lights.seat_belts": "on"}),
        Error(PARKING + "parking_chocks", "omitted", {"gear.chocks": "removed"}),
        Error(PARKING + "parking_steering_lights.rest", "omitted", {"lights.taxi": "on"}),
        Error(PARKING + "parking_slides", "omitted", {"door.slides": "armed"}),
        Error(PARKING + "parking_pumps.left_aft", "omitted", {"fuel.pump.left_aft.switch": "on"}),
        Error(PARKING + "parking_hydraulics.1", "omitted", {"hydraulics.1.pump.electric.switch": "on"}),
        Error(PARKING + "parking_engine_ice.2", "omitted", {"ice.engine.2": "on"}),
        Error(PARKING + "parking_air_data_heat.left", "omitted", {"ice.air_data.left": "on"}),
        Error(PARKING + "parking_windshield_heat.left", "omitted", {"ice.windshield.left": "on"}),
        Error(PARKING + "parking_transponder", "omitted", {"transponder.mode": "ta"}),
        Error(PARKING + "parking_start_switches.1", "omitted", {"engine.1.start_switch": "ignition"}),
        Error(PARKING + "parking_directors.left", "omitted", {"autoflight.flight_director.left": "on"}),
        Error(PARKING + "parking_flaps", "omitted", {"controls.flap.lever": 8.0}),
        Error(PARKING + "parking_read", "omitted", calls_left_out=("parking_checklist",)),
        Error(PARKING + "chocks_call", "omitted", calls_left_out=("chocks_on",)),
        Error(PARKING + "shutdown_read", "omitted", calls_left_out=("shutdown_checklist",)),
    ],
    "dark": [
        Error(SECURE + "secure_inertial.left", "omitted", {"inertial.left.mode": "nav"}),
        Error(SECURE + "secure_brake", "omitted", {"gear.chocks": "removed"}),
        Error(SECURE + "secure_gear_lever", "omitted", {"gear.lever": "up"}),
        Error(SECURE + "secure_emergency", "omitted", {"cabin.emergency_lights": "armed"}),
        Error(SECURE + "secure_packs.left", "omitted", {"air.pack.left.switch": "normal"}),
        Error(SECURE + "secure_bleed", "omitted", {"bleed.apu.switch": "on"}),
        Error(SECURE + "secure_navigation_lights", "omitted", {"lights.navigation": "on"}),
        Error(SECURE + "secure_window_left", "omitted", {"cockpit.window.left": "open"}),
        Error(SECURE + "secure_window_right", "omitted", {"cockpit.window.right": "open"}),
        Error(SECURE + "secure_read", "omitted", calls_left_out=("secure_checklist",)),
    ],
}
