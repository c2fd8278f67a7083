"""Fuel, descent and landing against the fuel on board: no findings on a correct flight, and reasons for the errors."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import pytest

from rules.judge.events import Finding
from rules.judge.judge import Judge
from rules.packs.load_pack import SHIPPED_DIR
from rules.packs.trip_sheet import load_trip_sheet
from rules.signals.model import Value
from tests.packs_flight.recorded_sector import CleanSector, JudgedFlight, State, shifted

LATE_S = 400.0
"""Delay of the descent, after the time of the recorded one."""


@dataclass(frozen=True)
class Wrong:
    """A check, its phase, the wrong values, and words of the finding."""

    item: str
    phase: str
    words: str
    put: Mapping[str, Value] | None = None
    plus: Mapping[str, float] | None = None
    trip: Mapping[str, Value] | None = None


def with_wrong_values(state: State, wrong: Wrong) -> dict[str, Value]:
    """The state with the wrong values."""
    changed = dict(state) | dict(wrong.put or {})
    for name, by in (wrong.plus or {}).items():
        value = changed[name]
        assert not isinstance(value, str)
        changed[name] = value + by
    return changed


def judged(clean: CleanSector, wrong: Wrong) -> JudgedFlight:
    """The recording up to the end of the phase after the one with the error."""
    from_s = clean.judged.phase_s(wrong.phase) + 60.0
    trip_values = {f"trip.{name}": value for name, value in (wrong.trip or {}).items()}
    trip = replace(clean.trip, values={**clean.trip.values, **trip_values})
    flight = JudgedFlight(Judge(clean.pack, trip))
    for moment in clean.between(0.0, from_s + 700.0):
        state = with_wrong_values(moment.state, wrong) if moment.sim_s >= from_s else moment.state
        flight.send(moment.sim_s, state, moment.calls)
    return flight


IN_FLIGHT = [
    Wrong(
        "watch.fuel_leak", "cruise", "sheet block fuel 8 200 kg less 1 3",
        plus={"fuel.total": -400.0},
    ),
    Wrong(
        "watch.fuel_against_plan", "cruise", "sheet block fuel 8 200 kg less sheet taxi fuel 200 kg and sheet trip fuel 1 900 kg",
        plus={"fuel.total": -500.0, "fuel.used.1": 250.0, "fuel.used.2": 250.0},
    ),
    Wrong("watch.fuel_imbalance", "cruise", "left tank", plus={"fuel.tank.left": -700.0}),
    Wrong("flow.cruise.cruise_balance", "cruise", "left tank", plus={"fuel.tank.left": -700.0}),
    Wrong(
        "flow.descent_preparation.arrival_fuel", "cruise", "fuel at the destination 2",
        plus={"fuel.total": -3800.0, "fuel.used.1": 1900.0, "fuel.used.2": 1900.0},
    ),
    Wrong("watch.top_of_descent", "cruise", "33 110 ft at 3 deg", put={"management.distance_to_go": 105.0}),
    Wrong("watch.descent_rate_needed", "descent", " in 25 NM at ground speed", put={"management.distance_to_go": 35.0}),
    Wrong("flow.arrival_data.landing_mass_holds", "cruise", "less fuel to go", plus={"fuel.total": 1500.0}),
    Wrong("flow.arrival_data.landing_mass_limit", "cruise", "less fuel to go", plus={"fuel.total": 1500.0}),
    Wrong("watch.vref_at_this_mass", "approach", "1.23 times stall speed", plus={"fuel.total": 2500.0}),
]  # fmt: skip
ON_SHEET = [
    Wrong("flow.plausibility.trip_fuel_holds", "power_up", "trip fuel of the type: for sheet distance 243 NM",
          trip={"trip_fuel": 1500.0, "extra_fuel": 3710.0, "landing_mass": 55100.0}),
    Wrong("flow.arrival_data.vref_not_too_high", "power_up", "needs at most", trip={"vref": 150.0}),
    Wrong("flow.arrival_data.landing_runway_long", "power_up", "within 60 % of a runway that is wet",
          trip={"landing_runway_length": 1500.0}),
]  # fmt: skip


@pytest.mark.parametrize("wrong", IN_FLIGHT, ids=[wrong.item for wrong in IN_FLIGHT])
def test_an_error_in_flight_is_reported_with_its_working(clean: CleanSector, wrong: Wrong) -> None:
    """The finding comes after the error, and its sentence has the numbers of the calculation."""
    finding = judged(clean, wrong).finding(wrong.item)
    assert finding.sim_s >= clean.judged.phase_s(wrong.phase) + 60.0
    assert wrong.words in finding.sentence


@pytest.mark.parametrize("wrong", ON_SHEET, ids=[wrong.item for wrong in ON_SHEET])
def test_a_wrong_trip_value_is_reported_with_its_working(clean: CleanSector, wrong: Wrong) -> None:
    """A wrong trip value that agrees with the entered one is found before the phase that needs it."""
    trip_values = {f"trip.{name}": value for name, value in (wrong.trip or {}).items()}
    flight = JudgedFlight(Judge(clean.pack, replace(clean.trip, values={**clean.trip.values, **trip_values})))
    flight.play(clean.between(0.0, clean.judged.phase_s("descent")))
    finding: Finding = flight.finding(wrong.item)
    assert wrong.words in finding.sentence


def test_a_late_descent_is_reported_before_the_point_is_passed(clean: CleanSector) -> None:
    """A crew that stays level gets a notice some miles before the point at which 3 degrees begin."""
    level_s = clean.judged.phase_s("descent") - 60.0
    last = clean.between(level_s, level_s)[0]
    to_go = float(last.state["management.distance_to_go"])
    held = [
        moment._replace(state=dict(last.state) | {"management.distance_to_go": to_go - n * 0.12}, calls=())
        for n, moment in enumerate(shifted([last] * int(LATE_S), 0.0), 1)
    ]
    flight = clean.joined(level_s - 300.0, level_s)
    flight.play([moment._replace(sim_s=level_s + n) for n, moment in enumerate(held, 1)])
    finding = flight.finding("watch.top_of_descent")
    left = to_go - 0.12 * (finding.sim_s - level_s)
    need = (float(last.state["flight.altitude"]) - 640.0) / 318.4
    assert need < left < need + 5.5


def test_the_landing_values_of_the_sheet_match_the_flight(clean: CleanSector) -> None:
    """Landing mass and fuel at landing of the demonstration's sheet are those of the flight, and VREF fits them."""
    landed = next(m for m in clean.moments if m.sim_s >= clean.judged.phase_s("landing"))
    values = load_trip_sheet(SHIPPED_DIR / "twin_jet" / "trip_demo.yaml").values
    sheet = {name: float(value) for name, value in values.items() if not isinstance(value, str)}
    fuel_kg = float(landed.state["fuel.total"])
    assert sheet["trip.zero_fuel_mass"] + fuel_kg == pytest.approx(sheet["trip.landing_mass"], abs=150.0)
    planned = sheet["trip.block_fuel"] - sheet["trip.taxi_fuel"] - sheet["trip.trip_fuel"]
    assert fuel_kg == pytest.approx(planned, abs=150.0)
    least = clean.judged.judge.snapshot().samples["figure.minimum_vref"].value
    assert isinstance(least, float)
    assert 0.0 <= sheet["trip.vref"] - least < 1.0
