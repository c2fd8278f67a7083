"""Amendments of the sheet after an event, for the masses and the weather of a day.

The values begin with those of `tests/packs_flight/events.yaml`.

Takes: an event and a day.  Gives: `SheetChange`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import ceil

from mock_sim.scenario import Scenario
from mock_sim.scenario.model import ScenarioEvent
from rules.judge.judge import compute_figures
from rules.signals.model import Value
from tests.packs_flight.sector_events import events, trip_values
from tests.random_days.random_day import Day
from tests.shipped import shipped

TAXI_FUEL_KG = 200.0


@dataclass(frozen=True)
class SheetChange:
    """Values that the crew amends when a step is done (no values: never), and the scenario with the event's own values for the day."""

    scenario: Scenario
    step: str = ""
    values: Mapping[str, Value] = field(default_factory=dict)


def sheet_change(event: str, day: Day) -> SheetChange:
    """The change of an event; only events that happen in the sector have one."""
    expected = events().get(event)
    if expected is None or expected.trip_change is None:
        return SheetChange(day.scenario)
    values = dict(trip_values(expected.trip_change.values))
    sheet = day.trip.values
    if event == "engine_failure":
        pack, _ = shipped("twin_jet")
        for name in ("wind_direction", "wind_speed"):
            values[f"trip.landing_{name}"] = sheet[f"trip.{name}"]
        values["trip.landing_qnh"], values["trip.landing_temperature"] = (
            sheet["trip.qnh"],
            sheet["trip.outside_air_temperature"],
        )
        values["trip.landing_mass"] = float(str(sheet["trip.takeoff_mass"])) - TAXI_FUEL_KG
        found = {figure.signal.name: figure.value for figure in compute_figures(pack, {**sheet, **values})}
        values["trip.vref"] = float(ceil(found["figure.minimum_vref"]) + 1)
    else:
        values["trip.wind_speed"] = sheet["trip.wind_speed"]
    return SheetChange(_with_values(day.scenario, values), expected.trip_change.step, values)


def _with_values(scenario: Scenario, values: Mapping[str, Value]) -> Scenario:
    """The scenario with events whose crew sets these values."""
    return scenario.model_copy(update={"events": tuple(_event(one, values) for one in scenario.events)})


def _event(event: ScenarioEvent, values: Mapping[str, Value]) -> ScenarioEvent:
    """The event whose crew sets these values, if it sets a VREF."""
    if "vref" not in event.trip or "trip.vref" not in values:
        return event
    vref = float(str(values["trip.vref"]))
    set_by_crew = {"vref": vref, "approach_speed": vref + 6.0, "landing_qnh": values["trip.landing_qnh"]}
    return event.model_copy(update={"trip": {**event.trip, **set_by_crew}})
