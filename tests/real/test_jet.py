"""Tests on the stock twin jet of the library, from engines off to the climb."""

from __future__ import annotations

import pytest

from mock_sim.jsbsim.process.slips import DEMO, SLIPS
from rules.packs.model import Level
from tests.real.flight_assertions import assert_no_data_stays_no_data, assert_quiet, assert_received_complete
from tests.real.watched_flight import WatchedFlight, watch

pytestmark = pytest.mark.real

PHASES = [
    "power_up", "engine_start", "after_start", "taxi", "takeoff", "high_speed", "rotation", "initial_climb", "climb",
]  # fmt: skip

CAUGHT = {
    "fuel_early": {"watch.fuel_early.1": "too_early"},
    "start_order": {"watch.start_order_reversed": "out_of_order"},
    "flaps": {"flow.before_taxi.flaps": "omitted", "flow.takeoff_configuration.configured_flaps": "omitted"},
    "flaps_5": {
        "flow.before_taxi.flaps": "wrong_value",
        "flow.takeoff_configuration.configured_flaps": "wrong_value",
    },
    "trim": {
        "flow.before_start.stabiliser_trim": "wrong_value",
        "flow.takeoff_configuration.configured_trim": "wrong_value",
    },
    "trim_value": {"flow.before_start.stabiliser_trim": "wrong_value"},
    "controls": {"flow.before_taxi.rudder": "omitted"},
    "speedbrake": {
        "flow.power_up.speedbrake": "undone",
        "flow.takeoff_configuration.configured_speedbrake": "undone",
        "flow.takeoff_configuration.configured_spoilers.left": "omitted",
        "flow.takeoff_configuration.configured_spoilers.right": "omitted",
    },
    "parking_brake": {"flow.takeoff_configuration.configured_brake": "omitted"},
}
TO_THE_ROLL = ("--seconds", "150")


def test_phases_follow_the_flight(jet: WatchedFlight) -> None:
    """Start, roll, rotation, gear and climb are recognised in order and at their times."""
    assert jet.phases == PHASES
    assert 0 < jet.entered_s("engine_start") - jet.event_s("left engine: starter") < 5
    assert jet.event_s("thrust for the taxi") < jet.entered_s("taxi") < jet.event_s("brakes to a stop")
    assert (
        jet.event_s("brakes released, take-off thrust") < jet.entered_s("takeoff") < jet.event_s("rotation")
    )
    assert 0 < jet.entered_s("rotation") - jet.event_s("rotation") < 3
    assert jet.event_s("lift-off") < jet.entered_s("initial_climb") < jet.event_s("gear lever up") + 1
    assert jet.event_s("gear lever up") < jet.entered_s("climb")


def test_a_correct_flight_gives_no_notice(jet: WatchedFlight) -> None:
    """A correct flight gets no notice above an advisory and no finding."""
    assert_quiet(jet)
    assert_received_complete(jet)


def test_items_without_signal_have_no_verdict(jet: WatchedFlight) -> None:
    """An item without a signal in the model is "no data" and never met; the others are judged."""
    assert_no_data_stays_no_data(jet, at_least=60)
    assert jet.items_ever_met() >= {
        "flow.before_taxi.flaps", "flow.before_taxi.elevator", "flow.takeoff_configuration.configured_trim",
        "flow.takeoff_configuration.configured_spoilers.left", "flow.takeoff_configuration.configured_brake",
        "flow.line_up.runway_heading", "flow.initial_climb.gear_up", "flow.engine_start.fuel_levers_run.2",
    }  # fmt: skip


def test_every_slip_has_a_test() -> None:
    """Every slip of the aeroplane is flown by a test in this module."""
    assert set(CAUGHT) == set(SLIPS["jet"])


@pytest.mark.parametrize("slip", CAUGHT)
@pytest.mark.usefixtures("library")
def test_slip_is_caught_before_the_roll(slip: str) -> None:
    """A wrong configuration is found with its kind before the aeroplane rolls, and nothing else is found."""
    flight = watch("jet", [slip], TO_THE_ROLL)
    assert flight.kinds_by_item() == CAUGHT[slip]
    slip_s = next(event.sim_s for event in flight.events if event.slip == slip)
    roll_s = flight.event_s("brakes released, take-off thrust")
    assert all(slip_s <= finding.sim_s < roll_s for finding in flight.findings)
    levels = {item.id: item.level for item in flight.pack.items.values()}
    levels |= {rule.id: rule.level for rule in flight.pack.watches}
    told = {item for item in CAUGHT[slip] if levels[item] is not Level.ADVISORY}
    assert {notice.item for notice in flight.cautions_and_warnings} == told
    at_gate = [finding.lead_s for finding in flight.findings if finding.gate == "takeoff"]
    assert all(lead_s is not None and lead_s > 5 for lead_s in at_gate)


@pytest.mark.usefixtures("library")
def test_all_slips_of_the_demo_are_caught() -> None:
    """In a flight with several slips each is found, and nothing else."""
    flight = watch("jet", ["demo"], TO_THE_ROLL)
    wanted = {item: found for slip in DEMO["jet"] for item, found in CAUGHT[slip].items()}
    assert flight.kinds_by_item() == wanted
    assert {event.slip for event in flight.events if event.slip} == set(DEMO["jet"])
