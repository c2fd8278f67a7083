"""Events of the sector: each runs to its end, and what it is about is seen on the way."""

from __future__ import annotations

import pytest

from mock_sim.run import Flight, FlightMoment
from rules.faults import InputFaults
from tests.mock_sim.sector.clean_flight import clean_flight, new_flight


def flown(event: str, before: str) -> list[FlightMoment]:
    """All moments of an event, from shortly before a step of the clean flight."""
    return list(new_flight(events=[event]).resume_from(clean_flight().checkpoint_before(before)))


def read(moment: FlightMoment, name: str) -> float:
    """A signal that is a number."""
    return float(moment.state[name])


def call_names(moments: list[FlightMoment]) -> list[str]:
    """Return the calls in their order."""
    return [call.name for moment in moments for call in moment.calls]


START = "first_officer.start_2"
GOOD_IDLE = {
    "engine.2.running": "yes",
    "engine.2.start_valve": "closed",
    "electrical.generator.2.online": "yes",
}


@pytest.mark.parametrize(
    ("event", "signal", "low", "high"),
    [
        ("hot_start", "engine.2.egt", 740.0, 960.0),
        ("hung_start", "engine.2.n2", 38.0, 48.0),
        ("no_light_start", "engine.2.egt", 0.0, 60.0),
        ("no_n1_start", "engine.2.n1", 0.0, 0.0),
    ],
)
def test_a_bad_start_is_seen_and_the_second_is_good(event: str, signal: str, low: float, high: float) -> None:
    """Before its fuel is cut off the engine shows its fault; in the end both engines run."""
    moments = flown(event, START)
    aborted = next(
        n for n, m in enumerate(moments) if n and m.state["engine.2.start_switch"] == "off"
        and moments[n - 1].state["engine.2.start_switch"] == "start"
    )  # fmt: skip
    first = max(read(moment, signal) for moment in moments[: aborted + 1])
    assert low <= first <= high
    assert {name: moments[-1].state[name] for name in GOOD_IDLE} == GOOD_IDLE
    assert call_names(moments)[-1] == "taxi_clearance"


def test_a_stuck_starter_is_switched_off_by_hand() -> None:
    """The start valve stays open above the cut-out speed until the switch is moved."""
    moments = flown("starter_stuck", START)
    fast = [m for m in moments if read(m, "engine.2.n2") > 57.0 and m.state["engine.2.start_valve"] == "open"]
    assert len(fast) >= 3
    assert moments[-1].state["engine.2.start_valve"] == "closed"


def test_a_rejected_take_off_stops_and_goes_home() -> None:
    """The aeroplane reaches 90 kt, never flies, stops on the runway, and ends without power at Port Averil."""
    moments = flown("rejected_takeoff", "captain.takeoff_thrust")
    assert 90.0 < max(read(moment, "airspeed.captain") for moment in moments) < 115.0
    assert {moment.state["flight.on_ground"] for moment in moments} == {"yes"}
    assert max(read(moment, "controls.spoiler.left") for moment in moments) > 90.0
    assert call_names(moments)[-1] == "secure_checklist"
    assert moments[-1].state["electrical.bus.ac.1"] == "off"
    assert "v1" not in call_names(moments)


def test_a_return_to_the_stand_ends_there() -> None:
    """The aeroplane turns round on the taxiway, never takes off, and is shut down at the stand."""
    moments = flown("return_to_stand", "captain.taxi_straight")
    assert max(read(moment, "flight.ground_speed") for moment in moments) < 25.0
    assert "takeoff_clearance" not in call_names(moments)
    assert moments[-1].state["engine.1.fuel_lever"] == "closed"
    assert call_names(moments)[-1] == "secure_checklist"


def test_a_runway_change_ends_on_the_other_runway() -> None:
    """The new runway is entered and briefed, and the roll is on its heading."""
    moments = flown("runway_change", "captain.taxi_straight")
    assert moments[-1].state["management.runway"] == "32"
    assert read(moments[-1], "flight.heading") == pytest.approx(323.0, abs=2.0)
    assert read(moments[-1], "flight.airspeed") >= 60.0
    assert call_names(moments).count("departure_briefing") == 1


def test_a_go_around_lands_from_the_second_approach() -> None:
    """The aeroplane goes below 500 ft, climbs to 4 000 ft with the gear up, and lands from the second approach."""
    moments = flown("go_around", "captain.final_speed")
    heights = [read(moment, "flight.height") for moment in moments]
    low = heights.index(next(height for height in heights if height < 500.0))
    high = next(n for n in range(low, len(heights)) if heights[n] > 3300.0)
    assert min(heights[low:high]) > 300.0
    assert moments[high].state["gear.lever"] == "up"
    assert {moment.state["alert.stall"] for moment in moments} == {"off"}
    assert call_names(moments).count("landing_clearance") == 2
    assert call_names(moments)[-1] == "secure_checklist"


def test_an_engine_failure_comes_back_on_the_other() -> None:
    """Engine 1 stops after take-off, the flight climbs on, and lands at Port Averil on runway 14."""
    moments = flown("engine_failure", "captain.takeoff_thrust")
    failed = next(
        n
        for n, m in enumerate(moments)
        if m.state["flight.on_ground"] == "no" and m.state["engine.1.running"] == "no"
    )
    assert max(read(moment, "flight.altitude") for moment in moments) > 3900.0
    assert {moment.state["engine.1.running"] for moment in moments[failed:]} == {"no"}
    assert {moment.state["engine.2.running"] for moment in moments[: failed + 900]} == {"yes"}
    touch = next(m for m in moments[failed:] if m.state["flight.on_ground"] == "yes")
    assert read(touch, "flight.heading") == pytest.approx(143.0, abs=3.0)
    assert read(touch, "flight.altitude") == pytest.approx(210.0, abs=1.0)
    assert {moment.state["alert.stall"] for moment in moments} == {"off"}
    assert call_names(moments)[-1] == "secure_checklist"


def test_a_second_sector_departs_from_the_other_airport() -> None:
    """After the shutdown the same aeroplane, still with power, is prepared again and rolls on runway 27."""
    moments = flown("second_sector", "first_officer.shutdown")
    assert "secure_checklist" not in call_names(moments)
    assert call_names(moments).index("shutdown_checklist") < call_names(moments).index("trip_sheet_received")
    assert call_names(moments)[-1] == "takeoff_clearance"
    assert {moment.state["electrical.battery.switch"] for moment in moments} == {"on"}
    last = moments[-1]
    assert read(last, "flight.heading") == pytest.approx(268.0, abs=2.0)
    assert (last.state["management.runway"], last.state["transponder.code"]) == ("27", 4226.0)
    assert last.state["alert.takeoff_configuration"] == "off"
    assert read(last, "flight.altitude") == pytest.approx(640.0, abs=1.0)


def test_an_unknown_event_is_reported_with_the_nearest() -> None:
    """An unknown event is a fault with a hint."""
    with pytest.raises(InputFaults, match=r"unknown event go_arround(.|\n)*did you mean go_around"):
        Flight("sector", events=["go_arround"])


def test_a_scenario_without_events_is_reported() -> None:
    """An event of a scenario without events is reported; the circuit has none."""
    with pytest.raises(InputFaults, match="it has no events"):
        Flight("circuit", events=["go_around"])
