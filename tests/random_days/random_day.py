"""A random day: masses, weather, runway, pace and order of a correct crew, and the sheet that fits them.

The sheet's speeds, thrust and trim are read from the type's own tables with the day's masses and temperature, as a dispatcher would.

Takes: a kind of flight and a seed.  Gives: `Day`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import ceil
from pathlib import Path
from random import Random

from mock_sim.run import Flight
from mock_sim.scenario import Scenario
from mock_sim.scenario.model import Setting, Step
from mock_sim.send.network_faults import NetworkFaults
from rules.judge.judge import compute_figures
from rules.packs.model import Pack
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import TRIP_PREFIX, Value
from tests.false_alarms.simulated_flight import PACKS
from tests.random_days.step_order import reordered
from tests.shipped import shipped

COOLER_AT_ARRIVAL_DEGC = 0.85
"""Selmar Point lies 430 ft above the place for which the mock's temperature is given: 1.98 degC in 1 000 ft, ICAO Doc 7488."""
WAYS = Path(__file__).parent / "ways"
IDLE_N1, N1_OF_LEVER = 22.0, 0.79
"""Fan speed of the invented engine by its thrust lever."""


@dataclass(frozen=True)
class Day:
    """One day: what the mock flies, and what the papers say."""

    scenario: Scenario
    trip: TripSheet
    network: NetworkFaults
    rate_hz: float
    seed: int


@cache
def scenario_with_ways(name: str) -> Scenario:
    """A scenario with its events, and with the other ways of a crew."""
    scenario, ways = Flight(name).scenario, WAYS / f"{name}_ways.yaml"
    if not ways.exists():
        return scenario
    return scenario.model_copy(update={"events": Flight(ways).scenario.events})


def random_day(name: str, seed: int, *, turned: bool = True) -> Day:
    """The day of a seed.

    Args:
        name: `departure`, `sector` or `circuit`.
        seed: Gives everything that is random.
        turned: False for the take-off runway of the scenario, which some of its events name.
    """
    random = Random(f"{name} {seed}")
    pack, sheet = shipped(PACKS[name])
    values: dict[str, Value] = dict(sheet.values)
    scenario = scenario_with_ways(name)
    changed = (
        _circuit_day(random, scenario, values)
        if name == "circuit"
        else _jet_day(random, scenario, values, pack, turned=turned)
    )
    changed = _paced(reordered(changed, random), random)
    network = NetworkFaults(
        loss=random.choice((0.0, 0.01, 0.05, 0.08)), jitter_s=random.choice((0.0, 0.08, 0.2))
    )
    rate_hz = 2.0 if name == "sector" else random.choice((2.0, 4.0, 5.0))
    return Day(changed, TripSheet(sheet.title, values, sheet.inoperative), network, rate_hz, seed)


def _paced(scenario: Scenario, random: Random) -> Scenario:
    """Each person at a pace of their own; a pilot alone in a circuit has no time to be slow."""
    seats: dict[str, tuple[Step, ...]] = {}
    for seat, steps in scenario.seats.items():
        pace = 1.0 if seat == "weather" else random.uniform(0.7, 1.2 if seat == "pilot" else 1.5)
        seats[seat] = tuple(
            step.model_copy(update={"takes_s": step.takes_s * pace if step.takes_s > 1.5 else step.takes_s})
            for step in steps
        )
    return scenario.model_copy(update={"seats": seats, "longest_s": scenario.longest_s * 1.5})


def _jet_day(
    random: Random, scenario: Scenario, values: dict[str, Value], pack: Pack, *, turned: bool
) -> Scenario:
    """A day of the twin jet."""
    moist = random.random() < 0.5
    degc = round(random.uniform(-12.0, 8.0 if moist else 22.0), 1)
    widest = (-12.0, 12.0) if "land" in _keys(scenario, "atc") else (-40.0, 30.0)
    turn = round(random.uniform(*widest)) if turned else 0
    trip = dict(scenario.trip)
    _loads(random, values)
    _air(random, values, trip, degc=degc, turn=turn)
    _speeds(random, values, trip, pack, degc=degc)
    arrival = _arrival(random, values, trip, pack)
    for name in (
        "zero_fuel_mass",
        "takeoff_mass",
        "reserve_fuel",
        "block_fuel",
        "centre_of_gravity",
        "squawk",
        "takeoff_flap",
        "v1",
        "vr",
        "v2",
    ):
        trip[name] = values[TRIP_PREFIX + name]
    world = {
        **scenario.world,
        "flight.outside_air_temperature": degc,
        "weather.visible_moisture": "yes" if moist else "no",
        "weather.visibility": 3500.0 if moist else 20000.0,
        "weather.wind_direction": (float(str(values["trip.wind_direction"])) + random.uniform(-8.0, 8.0))
        % 360.0,
        "weather.wind_speed": max(0.0, float(str(values["trip.wind_speed"])) + random.uniform(-2.0, 2.0)),
        "fuel.tank.left": values["trip.fuel_left"],
        "fuel.tank.centre": values["trip.fuel_centre"],
        "fuel.tank.right": values["trip.fuel_right"],
    }
    changes: dict[str, dict[str, Setting]] = (
        {} if moist else {"engine_anti_ice": {"ice.engine.1": "off", "ice.engine.2": "off"}}
    )
    if arrival:
        changes |= {
            "anti_ice_on": {"ice.engine.1": "off", "ice.engine.2": "off"},
            "into_clouds": {"weather.visible_moisture": "no", "weather.visibility": 20000.0},
        }
    lever = (float(str(values["trip.takeoff_thrust"])) - IDLE_N1) / N1_OF_LEVER
    return _with_steps(
        scenario.model_copy(update={"trip": trip, "world": world}), changes, {"takeoff_thrust": lever}
    )


def _keys(scenario: Scenario, seat: str) -> set[str]:
    return {step.key for step in scenario.seats.get(seat, ())}


def _with_steps(
    scenario: Scenario, settings: Mapping[str, Mapping[str, Setting]], moves: Mapping[str, float]
) -> Scenario:
    """The scenario with other settings and moves in some steps."""
    seats: dict[str, tuple[Step, ...]] = {}
    for seat, steps in scenario.seats.items():
        changed = []
        for step in steps:
            update: dict[str, object] = {}
            if step.key in settings:
                update["settings"] = {**step.settings, **settings[step.key]}
            if step.key in moves:
                update["move"] = tuple(move.model_copy(update={"to": moves[step.key]}) for move in step.move)
            changed.append(step.model_copy(update=update))
        seats[seat] = tuple(changed)
    return scenario.model_copy(update={"seats": seats})


def _loads(random: Random, values: dict[str, Value]) -> None:
    """Load and fuel, within the limits of the type; the centre tank lasts until the descent, where the mock's crew switches its pumps off."""
    load, wing, centre = (
        float(random.randrange(9000, 15000, 100)),
        float(random.randrange(2700, 3300, 50)),
        float(random.randrange(1900, 2600, 50)),
    )
    block = 2.0 * wing + centre
    zero_fuel = 34200.0 + load
    fixed = sum(
        float(str(values[f"trip.{name}"]))
        for name in ("taxi_fuel", "trip_fuel", "contingency_fuel", "alternate_fuel", "final_reserve_fuel")
    )
    values |= {
        "trip.load": load, "trip.zero_fuel_mass": zero_fuel, "trip.takeoff_mass": zero_fuel + block - 200.0, "trip.landing_mass": zero_fuel + block - 2100.0,
        "trip.block_fuel": block, "trip.extra_fuel": block - fixed, "trip.fuel_left": wing, "trip.fuel_right": wing, "trip.fuel_centre": centre,
        "trip.fuel_uplift": (block - 2980.0) / 0.803, "trip.centre_of_gravity": round(random.uniform(18.0, 30.0), 1),
        "trip.squawk": float(f"{random.randrange(1, 7)}{random.randrange(8)}{random.randrange(8)}{random.randrange(1, 8)}"),
    }  # fmt: skip


def _air(
    random: Random, values: dict[str, Value], trip: dict[str, Setting], *, degc: float, turn: int
) -> None:
    """Wind, pressure, temperature and the direction of the take-off runway."""
    heading = 143.0 + turn
    qnh = float(random.randrange(985, 1036))
    values |= {
        "trip.runway": f"{round(heading / 10.0):02d}", "trip.runway_heading": heading, "trip.first_heading": heading,
        "trip.push_heading": (heading + 180.0) % 360.0,
        "trip.wind_direction": float(round(heading + random.uniform(-70.0, 70.0)) % 360), "trip.wind_speed": float(random.randrange(0, 17)),
        "trip.outside_air_temperature": float(round(degc)), "trip.assumed_temperature": float(round(degc)), "trip.qnh": qnh,
        "trip.first_altitude": float(random.choice((5000, 6000))),
    }  # fmt: skip
    trip |= {
        "runway": values["trip.runway"],
        "qnh": qnh,
        "outside_temperature": float(round(degc)),
        "first_altitude": values["trip.first_altitude"],
    }
    for name in (
        "runway_heading",
        "taxi_heading",
        "hold_heading",
        "push_low",
        "push_high",
        "hold_low",
        "hold_high",
        "line_low",
        "line_high",
        "first_heading",
    ):
        trip[name] = float(trip[name]) + turn


def _speeds(
    random: Random, values: dict[str, Value], trip: dict[str, Setting], pack: Pack, *, degc: float
) -> None:
    """Speeds, thrust, trim and runway from the type's tables."""
    values["trip.takeoff_flap"] = float(random.choice((4, 8, 8)))
    actual = {"fuel.total": values["trip.block_fuel"], "flight.outside_air_temperature": degc}
    found = {figure.signal.name: figure.value for figure in compute_figures(pack, {**values, **actual})}
    v1, vr = round(found["figure.v1"]), round(found["figure.vr"])
    values |= {
        "trip.v1": float(v1), "trip.vr": float(max(vr, v1)), "trip.v2": float(max(vr, ceil(found["figure.minimum_v2"])) + random.randrange(0, 4)),
        "trip.takeoff_thrust": round(found["figure.full_n1"] - random.choice((0.0, 0.0, 2.0)), 1), "trip.stabiliser_trim": round(found["figure.takeoff_trim"], 1),
        "trip.runway_length": float(ceil(found["figure.needed_runway"] * 1.1 / 50.0) * 50),
    }  # fmt: skip
    values["trip.first_speed"] = values["trip.v2"]
    trip |= {
        "first_speed": values["trip.v2"],
        "stabiliser_trim": values["trip.stabiliser_trim"],
        "takeoff_thrust": values["trip.takeoff_thrust"],
    }


def _arrival(random: Random, values: dict[str, Value], trip: dict[str, Setting], pack: Pack) -> bool:
    """Weather and speeds of the landing; True for an arrival without moisture."""
    dry = random.random() < 0.4
    degc, speed, qnh = (
        round(random.uniform(-5.0, 20.0 if dry else 8.0), 1),
        float(random.randrange(0, 17)),
        float(random.randrange(985, 1036)),
    )
    direction = float(round(268.0 + random.uniform(-60.0, 60.0)) % 360)
    values |= {
        "trip.landing_wind_direction": direction,
        "trip.landing_wind_speed": speed,
        "trip.landing_qnh": qnh,
        "trip.landing_temperature": float(round(degc)),
    }
    values["trip.landing_runway_surface"] = random.choice(("dry", "wet"))
    found = {figure.signal.name: figure.value for figure in compute_figures(pack, values)}
    vref = float(ceil(found["figure.minimum_vref"]) + random.randrange(0, 3))
    values["trip.vref"] = vref
    if "landing_qnh" in trip:
        trip |= {"landing_wind_direction": direction, "landing_wind_speed": speed, "landing_qnh": qnh, "landing_temperature": degc + COOLER_AT_ARRIVAL_DEGC,
                 "vref": vref, "approach_speed": vref + max(5.0, round(0.4 * speed))}  # fmt: skip
    return dry


def _circuit_day(random: Random, scenario: Scenario, values: dict[str, Value]) -> Scenario:
    """A day of the trainer."""
    moist = random.random() < 0.3
    degc, qnh = round(random.uniform(-4.0, 25.0), 1), float(random.randrange(985, 1036))
    left = round(random.uniform(32.0, 45.0), 1)
    right = round(left + random.uniform(-5.0, 3.0), 1)
    direction, speed = round(312.0 + random.uniform(-60.0, 60.0)) % 360, random.randrange(0, 12)
    squawk = float(4000 + random.choice((101, 612, 237, 444)))
    values |= {
        "trip.qnh": qnh, "trip.landing_qnh": qnh, "trip.outside_air_temperature": float(round(degc)), "trip.squawk": squawk,
        "trip.block_fuel": round(left + right), "trip.takeoff_flap": float(random.choice((0, 8))), "trip.landing_flap": float(random.choice((16, 28))),
    }  # fmt: skip
    trip = scenario.trip | {"qnh": qnh, "fuel_left": left, "fuel_right": right, "squawk": squawk, "takeoff_flap": values["trip.takeoff_flap"],
                            "landing_flap": values["trip.landing_flap"], "zero_fuel_mass": float(random.randrange(800, 880))}  # fmt: skip
    world = scenario.world | {
        "flight.outside_air_temperature": degc, "weather.visible_moisture": "yes" if moist else "no", "weather.wind_direction": float(direction),
        "weather.wind_speed": float(speed), "weather.humidity": float(random.randrange(30, 95)),
    }  # fmt: skip
    return scenario.model_copy(update={"trip": trip, "world": world})
