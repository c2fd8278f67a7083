"""The stock piston single of the library, from engine off to the climb."""

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
    """Start, taxi, run-up, roll and climb are seen in their order, and when they happen."""
    assert piston.phases == PHASES
    assert 0 < piston.entered_s("engine_start") - piston.event_s("magnetos both, starter") < 2
    assert piston.event_s("run-up") < piston.entered_s("run_up") < piston.event_s("magnetos checked")
    assert piston.event_s("brakes released") < piston.entered_s("takeoff") < piston.event_s("rotation")
    assert piston.event_s("lift-off") < piston.entered_s("initial_climb") < piston.event_s("flap lever up")


def test_quiet_on_a_correct_flight(piston: WatchedFlight) -> None:
    """A correct flight hears nothing."""
    assert_quiet(piston)
    assert_received_complete(piston)


def test_no_signal_no_verdict(piston: WatchedFlight) -> None:
    """What the model has no signal for says "no data", never "met"; what it has is really judged."""
    assert_no_data_stays_no_data(piston, at_least=20)
    assert piston.items_ever_met() >= {
        "flow.before_start.mixture_rich", "flow.before_start.fuel_on_board", "flow.after_start.oil_pressure",
        "flow.before_takeoff.run_up_done", "flow.before_takeoff.flaps", "flow.before_takeoff.rudder",
        "flow.line_up.runway_heading", "flow.initial_climb.flaps_by_height",
    }  # fmt: skip


def test_heading_across_north(piston: WatchedFlight) -> None:
    """The nose swings over north on the roll, and the runway heading stays met from the line-up on."""
    assert "flow.line_up.runway_heading" in piston.items_ever_met()
    assert piston.final_lives()["flow.line_up.runway_heading"] == "met"


def test_every_slip_is_flown_here() -> None:
    """No slip is offered that these tests do not fly."""
    assert set(CAUGHT) == set(SLIPS["piston"])


@pytest.mark.parametrize("slip", CAUGHT)
@pytest.mark.usefixtures("library")
def test_slip_is_caught_before_the_roll(slip: str) -> None:
    """A wrong configuration is found, as what it is, before the aeroplane rolls; nothing else is."""
    flight = watch("piston", [slip], TO_THE_ROLL)
    assert flight.kinds_by_item() == CAUGHT[slip]
    done_s = next(event.sim_s for event in flight.events if event.slip == slip)
    roll_s = flight.event_s("brakes released")
    assert all(done_s <= finding.sim_s < roll_s for finding in flight.findings)
    assert {notice.item for notice in flight.cautions_and_warnings} == set(CAUGHT[slip])
    assert all(finding.lead_s is not None and finding.lead_s > 3 for finding in flight.findings)


@pytest.mark.usefixtures("library")
def test_slips_of_the_demo_are_all_caught() -> None:
    """Several slips in one flight hide none of each other: each is found, and nothing else is."""
    flight = watch("piston", ["demo"], TO_THE_ROLL)
    wanted = {item: found for slip in DEMO["piston"] for item, found in CAUGHT[slip].items()}
    assert flight.kinds_by_item() == wanted
    assert {event.slip for event in flight.events if event.slip} == set(DEMO["piston"])
