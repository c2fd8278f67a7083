"""Cases that the tables of the gates leave out: trip values, and errors that need a flight of their own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import pytest

from rules.packs.model import declared_id
from rules.packs.trip_sheet import TripSheet
from rules.signals.model import Value
from tests.packs_trainer.circuit_steps import CIRCUIT, TAXI_BACK, E, before, since
from tests.packs_trainer.scripted_circuit import Changes, ScriptedCircuit, Step, demo_trip_sheet
from tests.packs_trainer.test_circuit import FOUND
from tests.packs_trainer.test_gates import CASES

OTHERS: Mapping[str, tuple[str, Mapping[str, Changes], tuple[str, ...]]] = {
    "flow.after_start.idle_speed": ("release", {"after_start": {f"{E}rpm": 1250.0}}, ()),
    "flow.run_up.oil_for_run_up": ("left", {"rising": {f"{E}oil_pressure": 105.0}}, ()),
    "flow.run_up_check.read_run_up": ("enter", {}, ("runup_checklist",)),
    "flow.before_takeoff.tailwind": ("enter", {"set": {"weather.wind_direction": 132.0}}, ()),
    "flow.takeoff.full_throttle": ("off", {"rotate": {f"{E}throttle": 60.0}}, ()),
    "flow.initial_climb.climb_carburettor": ("pump", {"climb_700": {"ice.carburettor": 100.0}}, ()),
    "flow.initial_climb.climb_oil": ("pump", {"climb_700": {f"{E}oil_temperature": 120.0}}, ()),
    "flow.initial_climb.climb_speed": ("pump", {"level": {"flight.airspeed": 50.0}}, ()),
    "flow.climb.climb_fuel_pressure": ("pump", {"climb_700": {"fuel.pressure": 0.0}}, ()),
    "flow.downwind.approach_fuel": ("heat_first", {"pump": {"fuel.total": 12.0}}, ()),
    "flow.downwind.approach_engine": ("heat_first", {"pump": {f"{E}oil_temperature": 120.0}}, ()),
    "flow.downwind.approach_flap_speed": ("power_back", {"downwind": {"controls.flap.position": 16.0, "flight.airspeed": 95.0}}, ()),
    "flow.roll_out.throttle_idle": ("vacate", {"slow": {f"{E}throttle": 45.0}}, ()),
    "flow.roll_out.engine_still_runs": ("vacate", {"slow": {f"{E}running": "no"}}, ()),
    "flow.after_landing.read_after_landing": ("key_out", {}, ("after_landing_checklist",)),
    "flow.shutdown.mixture_off": ("shut_down", {"stopped": {f"{E}mixture": 15.0}}, ()),
}  # fmt: skip
"""Before which step the flight ends, what is wrong, and what is not called."""

SHEETS: Mapping[str, Mapping[str, Value]] = {
    "flow.before_start.reserve_day": {"trip.final_reserve_fuel": 8.0},
    "flow.before_start.fuel_adds_up": {"trip.trip_fuel": 65.0},
    "flow.before_takeoff.runway_name": {"trip.runway": "13"},
}
"""Wrong trip values by item."""

ELSEWHERE = {
    "flow.before_start.reserve_night", "flow.before_takeoff.run_up_done", "flow.before_takeoff.read_before_takeoff", "flow.walkround.walkround",
    "flow.before_start.navigation_lights_start", "flow.after_start.navigation_lights", "flow.after_start.taxi_light",
    "flow.before_takeoff.mixture_high", "flow.go_around.full_power", "flow.go_around.heat_cold",
    "flow.go_around.flaps_partial", "flow.go_around.go_around_speed", "flow.secure.read_secure",
}  # fmt: skip
"""These have tests of their own, here or in `test_flight_variants`."""


def sheet(values: Mapping[str, Value]) -> TripSheet:
    """The sheet of the demonstration with a changed value."""
    return replace(demo_trip_sheet(), values={**demo_trip_sheet().values, **values})


def items(flight: ScriptedCircuit) -> set[str]:
    """Items of flows with findings."""
    return {item for item in flight.found if item.startswith("flow.")}


def test_every_item_has_a_case() -> None:
    """Each item of the pack is found unmet in one of these tests; of one with a `*`, one of its matches at least."""
    tables = [case.found for case in CASES.values()] + list(FOUND.values())
    tested = {item for table in tables for item in table} | {*OTHERS, *SHEETS, *ELSEWHERE}
    declared = set(map(declared_id, ScriptedCircuit().pack.items))
    assert declared - set(map(declared_id, tested)) == set()


@pytest.mark.parametrize("item", OTHERS)
def test_item_is_found_alone(item: str) -> None:
    """The item is found, and no other item with it."""
    until, wrong, missing_calls = OTHERS[item]
    assert items(ScriptedCircuit().fly(CIRCUIT, wrong, until=until, missing_calls=missing_calls)) == {item}


@pytest.mark.parametrize("item", SHEETS)
def test_wrong_sheet_is_found(item: str) -> None:
    """A wrong trip value is found, though the aeroplane agrees with it."""
    flight = ScriptedCircuit(trip=sheet(SHEETS[item])).fly(CIRCUIT, until="enter")
    assert item in flight.found
    assert flight.finding(item).kind == "wrong_value"


def test_night_needs_more_reserve() -> None:
    """A reserve for the day alone is too small at night: 30 and 45 min at cruise."""
    day_only = sheet({"trip.final_reserve_fuel": 12.0})
    lit = {"lights.navigation": "on", "lights.taxi": "on"}
    assert ScriptedCircuit(trip=day_only).fly(CIRCUIT, until="fires").found == {}
    flight = ScriptedCircuit(trip=day_only).fly(
        CIRCUIT, {"cold": {"weather.night": "yes"}, "cockpit": lit}, until="fires"
    )
    assert flight.found == {"flow.before_start.reserve_night": "wrong_value"}


def test_take_off_without_a_run_up() -> None:
    """A take-off without a run-up gives the findings that the run-up would have given."""
    flight = ScriptedCircuit().fly([*before("rising"), *since("elevator_-100")], until="rotate")
    assert "flow.before_takeoff.run_up_done" in flight.found
    assert "flow.run_up_check.each_magneto" in flight.found
    assert flight.finding("flow.before_takeoff.run_up_done").sim_s < flight.entered_s("takeoff")


def test_second_flight_needs_a_walk_round() -> None:
    """The walk-round of the first flight does not count for the next."""
    second_try = [step._replace(calls=()) if step.name == "walked" else step for step in CIRCUIT[1:]]
    assert "flow.walkround.walkround" in ScriptedCircuit().fly([*CIRCUIT, *second_try], until="").found


def test_return_to_the_stand_without_a_flight() -> None:
    """A return with the engine stopped before any take-off needs no after-landing checklist."""
    stand = [step for step in since("park") if step.name != "avionics_off"]
    flight = ScriptedCircuit().fly([*before("stop"), *stand], until="key_out")
    assert flight.phases[-1] == "shutdown"
    assert items(flight) == {"flow.stand.avionics_first.1", "flow.stand.avionics_first.2"}


def test_taxi_back_without_a_checklist() -> None:
    """A second take-off without clearance and checklist is found before it."""
    silent = [step._replace(calls=()) for step in TAXI_BACK]
    flight = ScriptedCircuit().fly([*before("park"), *silent, *since("full")[:3]])
    assert {"flow.line_up.clearance", "flow.before_takeoff.read_before_takeoff"} <= items(flight)


def test_a_secure_checklist_that_nobody_read_is_found() -> None:
    """Without the call it is found when the pilot has been out of the seat for long."""
    flight = ScriptedCircuit().fly([*CIRCUIT, Step("away", 320, {})], missing_calls=("secure_checklist",))
    assert items(flight) == {"flow.secure.read_secure"}
