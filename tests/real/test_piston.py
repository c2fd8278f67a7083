"""Tests on the stock piston single of the library, from engine off to the climb."""

from __future__ import annotations

import pytest

from mock_sim.jsbsim.process.slips import DEMO, SLIPS
from tests.real.flight_assertions import assert_no_data_stays_no_data, assert_quiet, assert_received_complete
from tests.real.watched_flight import WatchedFlight, watch

pytestmark = pytest.mark.real

PHASES = ["parked", "engine_start", "after_start", "taxi", "run_up", "takeoff", "initial_climb", "climb"]

CAUGHT = {
    "mixture": {"flow.before_takeoff.mixture": "undone"},
    "flaps_30": {"flow.before_takeoff.flaps": "wrong_value"},
    "trim": {"flow.before_takeoff.trim": "wrong_value"},
    "controls": {
        "flow.before_takeoff.elevator": "omitted",
        "flow.before_takeoff.aileron": "omitted",
        "flow.before_takeoff.rudder": "omitted",
    },
    "parking_brake": {"flow.line_up.brake_off": "omitted"},
}
TO_THE_ROLL = ("--seconds", "85")


def test_phases_follow_the_flight(piston: WatchedFlight) -> None:
    """Start, taxi, run-up, roll and climb are recognised in order and at their times."""
    assert piston.phases == PHASES
    assert 0 < piston.entered_s("engine_start") - piston.event_s("magnetos both, starter") < 2
    assert piston.event_s("run-up") < piston.entered_s("run_up") < piston.event_s("magnetos checked")
    assert piston.event_s("brakes released") < piston.entered_s("takeoff") < piston.event_s("rotation")
    assert piston.event_s("lift-off") < piston.entered_s("initial_climb") < piston.event_s("flap lever up")


def test_a_correct_flight_gives_no_notice(piston: WatchedFlight) -> None:
    """A correct flight gets no notice above an advisory and no finding."""
    assert_quiet(piston)
    assert_received_complete(piston)


def test_items_without_signal_have_no_verdict(piston: WatchedFlight) -> None:
    """An item without a signal in the model is "no data" and never met; the others are judged."""
    assert_no_data_stays_no_data(piston, at_least=20)
    assert piston.items_ever_met() >= {
        "flow.before_start.mixture_rich", "flow.before_start.fuel_on_board", "flow.after_start.oil_pressure",
        "flow.before_takeoff.run_up_done", "flow.before_takeoff.flaps", "flow.before_takeoff.rudder",
        "flow.line_up.runway_heading", "flow.initial_climb.flaps_by_height",
    }  # fmt: skip


def test_the_runway_heading_stays_met_across_north(piston: WatchedFlight) -> None:
    """The heading crosses north on the roll, and the runway heading stays met from the line-up on."""
    assert "flow.line_up.runway_heading" in piston.items_ever_met()
    assert piston.final_statuses()["flow.line_up.runway_heading"] == "met"


def test_every_slip_has_a_test() -> None:
    """Every slip of the aeroplane is flown by a test in this module."""
    assert set(CAUGHT) == set(SLIPS["piston"])


@pytest.mark.parametrize("slip", CAUGHT)
@pytest.mark.usefixtures("library")
def test_slip_is_caught_before_the_roll(slip: str) -> None:
    """A wrong configuration is found with its kind before the aeroplane rolls, and nothing else is found."""
    flight = watch("piston", [slip], TO_THE_ROLL)
    assert flight.kinds_by_item() == CAUGHT[slip]
    slip_s = next(event.sim_s for event in flight.events if event.slip == slip)
    roll_s = flight.event_s("brakes released")
    assert all(slip_s <= finding.sim_s < roll_s for finding in flight.findings)
    assert {notice.item for notice in flight.cautions_and_warnings} == set(CAUGHT[slip])
    assert all(finding.lead_s is not None and finding.lead_s > 3 for finding in flight.findings)


@pytest.mark.usefixtures("library")
def test_all_slips_of_the_demo_are_caught() -> None:
    """In a flight with several slips each is found, and nothing else."""
    flight = watch("piston", ["demo"], TO_THE_ROLL)
    wanted = {item: found for slip in DEMO["piston"] for item, found in CAUGHT[slip].items()}
    assert flight.kinds_by_item() == wanted
    assert {event.slip for event in flight.events if event.slip} == set(DEMO["piston"])
