"""Flaps that are up at take-off thrust give a warning before the roll, with a trip sheet and without one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mock_sim.run import Flight
from rules.judge.judge import Judge
from rules.signals.model import Value
from tests.packs_flight.recorded_sector import JudgedFlight
from tests.packs_flight.test_takeoff_roll import RATE_HZ, fly_to_line_up
from tests.shipped import shipped

UP: dict[str, Value] = {
    "controls.flap.lever": 0.0,
    "controls.flap.position": 0.0,
    "controls.slat.position": "retracted",
}
WITHOUT_SHEET, WITH_SHEET = "watch.flaps_up_at_takeoff", "flow.takeoff_configuration.configured_flaps"


@pytest.mark.parametrize(
    ("shown", "has_sheet", "found"),
    [
        (UP, False, {WITHOUT_SHEET}),
        (UP, True, {WITH_SHEET}),
        ({}, False, set()),
        ({}, True, set()),
        ({"controls.flap.lever": 4.0, "controls.flap.position": 4.0}, False, set()),
    ],
)
def test_flaps_up_are_told_before_the_roll(shown: dict[str, Value], has_sheet: bool, found: set[str]) -> None:
    """One rule tells it, before 35 kt; any flap that a take-off can have is silent where no sheet says which."""
    pack, trip = shipped("twin_jet")
    checkpoint, _ = fly_to_line_up(1)
    flight = Flight("sector", seed=1, rate_hz=RATE_HZ).resume_from(checkpoint)
    judged = JudgedFlight(Judge(pack, trip if has_sheet else replace(trip, values={})))
    for moment in flight:
        judged.send(moment.sim_s, moment.state | shown)
        if float(moment.state["flight.ground_speed"]) > 35.0 and moment.state["flight.on_ground"] == "yes":
            break
    assert judged.found.keys() & {WITHOUT_SHEET, WITH_SHEET} == found
