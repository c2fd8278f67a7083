"""Watches of the whole flight: no finding on a correct flight (test_sector), and a finding for each error."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pytest
from ruamel.yaml import YAML

from rules.packs.load_pack import SHIPPED_DIR
from rules.signals.model import Value
from tests.accidents.accident_case import load_cases
from tests.packs_flight.errors import off
from tests.packs_flight.recorded_sector import Change, CleanSector, State


@dataclass(frozen=True)
class Wrong:
    """A watch, its phase, the time and the wrong values; `most_s` is the latest time of the finding."""

    watch: str
    phase: str
    after_s: float
    change: Change | None
    most_s: float = 10.0
    calls_left_out: tuple[str, ...] = ()
    kind: str = "limit_exceeded"


def engine(k: str) -> list[Wrong]:
    """Cases of each engine."""
    e = f"engine.{k}."
    return [
        Wrong(f"egt_takeoff.{k}", "climb", 10, {e + "egt": 931.0}),
        Wrong(f"egt_continuous.{k}", "cruise", 5, {e + "egt": 892.0}, 310.0),
        Wrong(f"oil_pressure.{k}", "cruise", 5, {e + "oil_pressure": 9.0}),
        Wrong(f"oil_pressure_high.{k}", "cruise", 5, {e + "oil_pressure": 104.0}, 15.0),
        Wrong(f"oil_temperature.{k}", "cruise", 5, {e + "oil_temperature": 166.0}, 15.0),
        Wrong(f"oil_light.{k}", "cruise", 5, {e + "low_oil_pressure": "on"}),
        Wrong(f"vibration.{k}", "cruise", 5, {e + "vibration": 4.6}),
        Wrong(f"fan_speed.{k}", "climb", 10, {e + "n1": 106.0}),
        Wrong(f"core_speed.{k}", "climb", 10, {e + "n2": 107.0}),
        Wrong(f"reverser_in_flight.{k}", "cruise", 5, {e + "reverser": "transit"}),
    ]


def slower(_: float, state: State) -> Mapping[str, Value]:
    """70 kt slower, as both sides and the ground speed show."""
    sides = ("airspeed.captain", "airspeed.first_officer", "airspeed.standby", "flight.airspeed")
    less = {name: float(state[name]) - 70.0 for name in sides}
    return less | {"flight.ground_speed": float(state["flight.ground_speed"]) - 110.0}


def carried_by_the_wind(_: float, state: State) -> Mapping[str, Value]:
    """120 kt less on every airspeed, and a wind that would explain it."""
    sides = ("airspeed.captain", "airspeed.first_officer", "airspeed.standby", "flight.airspeed")
    less: dict[str, Value] = {name: float(state[name]) - 120.0 for name in sides}
    from_behind = (float(state["flight.track"]) + 180.0) % 360.0
    return less | {"weather.wind_direction": from_behind, "weather.wind_speed": 122.0}


ALERTS = [
    Wrong(f"alert_{alert}", "approach", 60, {f"alert.{alert}": "on"}, 25.0)
    for alert in (
        "master_warning", "takeoff_configuration", "landing_configuration", "cabin_altitude", "overspeed", "stall",
        "terrain", "master_caution",
    )
]  # fmt: skip

FINAL_S = 3.0
"""How long after the 500 ft gate what is wrong on short final begins."""
SYSTEMS = [
    Wrong("elevator_follows", "high_speed", 1, {"controls.column": 60.0, "controls.elevator": 0.0}),
    Wrong("aileron_follows", "taxi", 5, {"controls.wheel": 60.0, "controls.aileron": -60.0}),
    Wrong("rudder_follows", "taxi", 5, {"controls.pedals": 60.0, "controls.rudder": -60.0}),
    Wrong("trim_runs", "climb", 10, {"controls.stabiliser_trim": 2.0}),
    Wrong("rudder_trim_in_flight", "cruise", 5, {"controls.rudder_trim": -2.5}, 25.0),
    Wrong("inertial_in_flight.right", "cruise", 5, {"inertial.right.mode": "attitude"}),
    Wrong("breakers_in_flight", "cruise", 5, {"electrical.breakers_out": 2.0}),
    Wrong("generator_in_flight_1", "cruise", 5, {"electrical.generator.1.online": "no"}),
    Wrong("generator_in_flight_2", "cruise", 5, {"electrical.generator.2.online": "no"}),
    Wrong("buses_in_flight.1", "cruise", 5, {"electrical.bus.ac.1": "off"}),
    Wrong("wing_ice", "climb", 10, {"ice.airframe": "yes", "ice.wing": "off"}, kind="omitted"),
    Wrong("oil_quantity.2", "climb", 10, {"engine.2.oil_quantity": 8.0}, 15.0),
    Wrong("emergency_code", "climb", 10, {"transponder.code": 7500.0}),
    Wrong("altitude_held", "cruise", 100, off("flight.pressure_altitude", -900.0)),
    Wrong("autopilot_in_cruise", "cruise", 5, {"autoflight.pilot.1": "off"}, 25.0),
    Wrong("cruise_speed", "cruise", 60, slower, 15.0),
    Wrong("slow_on_final", "short_final", FINAL_S, {"flight.airspeed": 112.0}),
    Wrong("idle_on_final", "short_final", FINAL_S, {"engine.1.n1": 23.0, "engine.2.n1": 23.0}),
    Wrong("sink_on_short_final", "short_final", FINAL_S, {"flight.vertical_speed": -1500.0}),
    Wrong(
        "reverse_after_touchdown",
        "landing",
        0.5,
        {"engine.1.reverser": "stowed", "engine.2.reverser": "stowed"},
        kind="omitted",
    ),
]

WRONG = [
    *SYSTEMS,
    *engine("1"),
    *engine("2"),
    *ALERTS,
    Wrong("flap_speed", "approach", 60, {"controls.flap.position": 4.0, "flight.airspeed": 241.0}),
    Wrong("flap_speed", "approach", 60, {"controls.flap.position": 36.0, "flight.airspeed": 176.0}),
    Wrong("gear_speed", "approach", 60, {"gear.left.position": 100.0, "flight.airspeed": 265.0}),
    Wrong(
        "gear_retraction_speed",
        "approach",
        60,
        {"gear.left.position": 50.0, "gear.lever": "up", "flight.airspeed": 235.0},
    ),
    Wrong("gear_disagree", "approach", 60, {"gear.disagree": "on"}, 25.0),
    Wrong("overspeed_kt", "cruise", 5, {"flight.airspeed": 339.0}),
    Wrong("overspeed_mach", "cruise", 5, {"flight.mach": 0.822}),
    Wrong("low_level_speed", "approach", 60, {"flight.airspeed": 272.0}, 20.0),
    Wrong("pitch_high", "climb", 10, {"flight.pitch": 27.0}),
    Wrong("pitch_low", "descent", 10, {"flight.pitch": -12.0}),
    Wrong("tail", "high_speed", 2, {"flight.pitch": 10.6}),
    Wrong("bank_steep", "climb", 10, {"flight.bank": -48.0}),
    Wrong("bank_angle", "climb", 10, {"flight.bank": 37.0}),
    Wrong("bank_low", "short_final", 25, {"flight.bank": 24.0}),
    Wrong("airspeed_disagree", "climb", 10, off("airspeed.captain", -14.0)),
    Wrong("airspeed_standby", "cruise", 5, off("airspeed.standby", 25.0)),
    Wrong("airspeed_unlikely", "approach", 320, carried_by_the_wind),
    Wrong("air_data_heat_in_flight.left", "cruise", 5, {"ice.air_data.left": "off"}),
    Wrong("altimeters_disagree", "cruise", 5, off("altimeter.captain.altitude", 240.0)),
    Wrong("altimeter_settings", "approach", 60, {"altimeter.captain.setting": 1014.0}, 35.0),
    Wrong("altimeter_modes", "descent", 5, {"altimeter.captain.standard": "no"}, 35.0),
    Wrong("height_on_final", "short_final", 5, off("altimeter.captain.altitude", 290.0), kind="wrong_value"),
    Wrong("headings_disagree", "cruise", 5, off("heading.captain", 12.0)),
    *(
        Wrong(f"{watch}_{seat}", phase, after_s, {f"altimeter.{seat}.standard": word}, 20.0, kind="omitted")
        for seat in ("captain", "first_officer")
        for watch, phase, after_s, word in (
            ("standard_at_transition", "high_climb", 10, "no"),
            ("qnh_below_transition", "approach", 200, "yes"),
        )
    ),
    Wrong("transponder_in_flight", "cruise", 5, {"transponder.mode": "standby"}),
    Wrong("climb_clearance", "high_climb", 5, None, calls_left_out=("climb_clearance",), kind="too_early"),
    Wrong(
        "descent_without_clearance",
        "descent",
        5,
        None,
        30.0,
        calls_left_out=("descent_clearance",),
        kind="too_early",
    ),
    Wrong("landing_lights_low.left", "final", 1, {"lights.landing.left": "off"}, 35.0, kind="omitted"),
    Wrong("cabin_altitude", "cruise", 5, {"cabin.altitude": 10200.0}),
    Wrong("cabin_rate", "climb", 10, {"cabin.rate": 2100.0}, 15.0),
    Wrong("cabin_differential", "cruise", 5, {"cabin.differential": 9.1}),
    Wrong("fuel_imbalance", "cruise", 5, off("fuel.tank.left", -650.0), 15.0),
    Wrong("fuel_low_left", "cruise", 5, {"fuel.tank.left": 700.0}),
    Wrong("fuel_low_right", "cruise", 5, {"fuel.tank.right": 700.0}),
    Wrong("final_reserve", "cruise", 5, {"fuel.total": 900.0}),
    Wrong("fuel_temperature", "cruise", 5, {"fuel.temperature": -39.0}, 15.0),
    Wrong("pumps_in_flight", "cruise", 5, {"fuel.pump.right_aft.switch": "off"}),
    Wrong(
        "speedbrake_with_flaps",
        "approach",
        60,
        {"controls.speedbrake.lever": "half", "controls.flap.position": 20.0},
    ),
    Wrong(
        "speedbrake_with_thrust",
        "climb",
        10,
        {"controls.speedbrake.lever": "half"},
        15.0,
    ),
    Wrong("speedbrake_low", "short_final", 2, {"controls.speedbrake.lever": "full"}),
    Wrong("thrust_asymmetry", "climb", 10, {"engine.2.n1": 40.0}),
    Wrong("minimum_speed", "initial_climb", 1, {"flight.airspeed": 124.0}),
    Wrong("sink_after_takeoff", "initial_climb", 1, {"flight.vertical_speed": -500.0}),
    Wrong("pedals_in_roll.left", "high_speed", 1, {"gear.brake_pedal.left": 25.0}),
    Wrong(
        "spoilers_after_touchdown",
        "landing",
        0.5,
        {"controls.spoiler.left": 0.0, "controls.spoiler.right": 0.0},
        kind="omitted",
    ),
    Wrong("thrust_after_touchdown", "landing", 0.5, {"engine.1.thrust_lever": 30.0}),
    Wrong("flaps_up_early", "initial_climb", 2, {"controls.flap.lever": 0.0}, kind="too_early"),
    Wrong("flaps_4_early", "initial_climb", 2, {"controls.flap.lever": 4.0}, kind="too_early"),
    Wrong(
        "icing_in_flight.2",
        "descent",
        20,
        {"weather.visible_moisture": "yes", "flight.outside_air_temperature": -20.0, "ice.engine.2": "off"},
        25.0,
        kind="omitted",
    ),
    Wrong(
        "flaps_while_taxiing_in",
        "taxi_in",
        2,
        {"controls.flap.lever": 28.0},
        64.0,
        calls_left_out=("after_landing_checklist",),
        kind="omitted",
    ),
    Wrong("fire_warning.1", "cruise", 5, {"fire.engine.1.warning": "on"}),
    Wrong("speed_in", "taxi_in", 20, {"flight.ground_speed": 46.0}),
    Wrong(
        "slides_with_door",
        "shutdown",
        5,
        {"door.slides": "armed", "door.1.left": "open"},
    ),
    Wrong("pressure_with_door", "taxi_in", 5, {"cabin.differential": 0.9}),
]

JOINED_AT = {
    "high_speed": "engine_start",
    "initial_climb": "engine_start",
    "taxi_in": "short_final",
    "shutdown": "short_final",
}


@pytest.mark.parametrize("wrong", WRONG, ids=[w.watch for w in WRONG])
def test_each_watch_finds_its_error(clean: CleanSector, wrong: Wrong) -> None:
    """The watch finds the error within its hold, and has found nothing before."""
    from_s = clean.judged.phase_s(wrong.phase) + wrong.after_s
    joined_s = clean.judged.phase_s(JOINED_AT.get(wrong.phase, wrong.phase)) - 30.0
    change = wrong.change

    def late(sim_s: float, state: State) -> Mapping[str, Value]:
        if sim_s < from_s or change is None:
            return {}
        return change(sim_s, state) if callable(change) else change

    judged = clean.joined(joined_s, from_s + wrong.most_s, late, calls_left_out=wrong.calls_left_out)
    (own,) = {str(one.finding) for one in clean.pack.watches if one.id == f"watch.{wrong.watch}"}
    assert judged.found.get(f"watch.{wrong.watch}") == (own if own == "aeroplane_event" else wrong.kind)
    finding = judged.finding(f"watch.{wrong.watch}")
    assert from_s <= finding.sim_s or wrong.change is None
    assert finding.sentence


def test_the_cruise_is_checked_at_intervals(clean: CleanSector) -> None:
    """The cruise needs a check right after the level-off, and one in every hour."""
    first_s = clean.judged.phase_s("cruise")
    level = clean.between(first_s - 30.0, first_s + 30.0)
    last = level[-1]

    def level_for(seconds: int, calls: dict[int, str]) -> dict[str, str]:
        held = [
            last._replace(sim_s=last.sim_s + n, calls=(calls[n],) if n in calls else ())
            for n in range(1, seconds)
        ]
        judged = clean.joined(first_s - 30.0, first_s + 30.0)
        judged.play(held)
        return {k: v for k, v in judged.found.items() if k == "watch.cruise_check_due"}

    assert level_for(50, {}) == {}
    assert level_for(100, {}) == {"watch.cruise_check_due": "late"}
    assert level_for(3500, {10: "cruise_check"}) == {}
    assert level_for(3800, {10: "cruise_check"}) == {"watch.cruise_check_due": "late"}
    assert level_for(3800, {10: "cruise_check", 3400: "cruise_check"}) == {}


def test_every_watch_of_the_flight_is_tried() -> None:
    """Each watch of the engines in use, of the flight, of the alerts and of the systems has a case, here or on another day."""
    files = ("engine", "flight", "alerts", "systems", "path", "air_data")
    yaml = YAML(typ="safe", pure=True)
    read = (yaml.load(SHIPPED_DIR / "twin_jet" / f"watches_{file}.yaml") for file in files)
    written = {name for sections in read for name in sections["watches"]}
    folder = Path(__file__).parents[1] / "other_days"
    days = [day for path in sorted(folder.glob("*.yaml")) for day in load_cases(path.name, folder)]
    elsewhere = {item.split(".")[1] for day in days for item in day.finds if item.startswith("watch.")}
    elsewhere |= {"cruise_check_due", "spoilers_in_rejected", "altimeter_settings_departure", "heading_still"}
    assert written - {w.watch.split(".")[0] for w in WRONG} - elsewhere == set()
