"""Tests of whole flights in-process: the clean departure, every slip, and reproducibility by seed."""

from __future__ import annotations

from functools import cache
from itertools import islice

import pytest

from mock_sim.run import Flight, FlightMoment, StuckError
from mock_sim.scenario import AeroplaneInterface, Scenario, load_scenario
from rules.signals.model import Value
from tests.mock_sim.fake_cockpit import KNOWN
from tests.mock_sim.whole_flight import fly_to_end


@cache
def catalogue() -> Scenario:
    """The departure as written."""
    return Flight().scenario


@cache
def clean() -> tuple[list[FlightMoment], dict[str, float]]:
    """The moments of the clean departure, once a second, and when each step was done."""
    flight = Flight(rate_hz=1, noise=False)
    return list(flight), flight.crew.step_times_s


def at(moments: list[FlightMoment], sim_s: float) -> dict[str, Value]:
    """The state at a time."""
    return next(moment.state for moment in moments if moment.sim_s >= sim_s)


def test_the_clean_departure_ends_on_the_runway() -> None:
    """The departure starts parked without power and ends after 13 to 17 minutes, rolling on the runway at target thrust."""
    moments, _ = clean()
    assert moments[0].state["electrical.battery.switch"] == "off"
    last = moments[-1].state
    assert 13 * 60 < moments[-1].sim_s < 17 * 60
    assert float(last["flight.airspeed"]) >= 60
    assert abs(float(last["flight.heading"]) - 143) < 2
    assert abs(float(last["engine.1.n1"]) - 92.4) < 1.5
    assert last["alert.takeoff_configuration"] == "off"


def test_the_clean_crew_calls_everything_once_and_in_order() -> None:
    """Every call that is shared with the packs is made exactly once, in the order of the trade."""
    moments, _ = clean()
    calls = [call.name for moment in moments for call in moment.calls]
    assert calls == [
        "trip_sheet_received",
        "walkround_done",
        "atc_clearance",
        "departure_briefing",
        "departure_checklist",
        "ground_clear_hydraulics",
        "before_start_checklist",
        "push_approved",
        "ground_clear_start",
        "start_approved",
        "hand_signal_left",
        "ground_clear",
        "after_start_checklist",
        "before_taxi_checklist",
        "taxi_clearance",
        "cabin_ready",
        "before_takeoff_checklist",
        "lineup_clearance",
        "takeoff_clearance",
    ]


def test_the_clean_crew_is_a_good_crew() -> None:
    """At each cue the aeroplane is configured as the trade requires."""
    moments, step_times_s = clean()
    pushing = at(moments, step_times_s["atc.push"])
    assert pushing["lights.beacon"] == "on"
    assert pushing["gear.parking_brake"] == "set"
    assert float(pushing["gear.brake_accumulator"]) >= 2600
    assert float(pushing["hydraulics.1.pressure"]) > 2800
    assert float(pushing["controls.stabiliser_trim"]) == pytest.approx(5.2, abs=0.05)
    doors = [
        word for name, word in pushing.items() if name.startswith("door.") and word in ("open", "extended")
    ]
    assert doors == []
    starting = at(moments, step_times_s["atc.start"])
    assert {starting["air.pack.left.switch"], starting["air.pack.right.switch"]} == {"off"}
    assert float(starting["bleed.duct.right"]) > 30
    taxiing = at(moments, step_times_s["atc.taxi"])
    assert (taxiing["controls.flap.position"], taxiing["controls.slat.position"]) == (8.0, "extended")
    assert (taxiing["bleed.apu.switch"], taxiing["apu.switch"]) == ("off", "off")
    assert {
        taxiing[f"ice.{name}"] for name in ("engine.1", "engine.2", "air_data.left", "air_data.right")
    } == {"on"}
    going = at(moments, step_times_s["atc.takeoff"])
    assert (going["alert.caution_count"], going["alert.stored_count"]) == (0.0, 0.0)
    assert (going["transponder.mode"], going["lights.strobe"], going["gear.autobrake"]) == (
        "ta_ra",
        "on",
        "reject",
    )
    assert abs(float(going["flight.heading"]) - 143) < 2


def test_fuel_comes_at_25_per_cent_with_the_fan_turning() -> None:
    """Both fuel levers go to run at or above 25 % N2, the second engine first."""
    given: dict[str, FlightMoment] = {}
    for moment in Flight(rate_hz=10, noise=False):
        for engine in "21":
            if moment.state[f"engine.{engine}.fuel_lever"] == "open":
                given.setdefault(engine, moment)
        if len(given) == 2:
            break
    assert list(given) == ["2", "1"]
    for engine, moment in given.items():
        assert float(moment.state[f"engine.{engine}.n2"]) >= 25
        assert float(moment.state[f"engine.{engine}.n1"]) > 1


@pytest.mark.parametrize("name", [slip.id for slip in catalogue().slips])
def test_each_slip_changes_its_signals(name: str) -> None:
    """A flight with the slip records it once, and each signal of the slip differs from the clean flight."""
    flight = Flight(slips=[name], rate_hz=1, noise=False)
    slip = flight.slips[0]
    same = set(slip.signals)
    straight, _ = clean()
    for right, wrong in zip(straight, flight, strict=False):
        same -= {signal for signal in same if right.state[signal] != wrong.state[signal]}
        if not same and flight.slip_records():
            break
    assert same == set()
    assert [(record.id, record.seat) for record in flight.slip_records()] == [(name, slip.seat)]


@pytest.mark.parametrize("group", [0, 1, 2])
def test_a_crew_that_slips_often_still_gets_to_the_end(group: int) -> None:
    """In a flight with every third slip of the catalogue no seat waits without end, and all slips are made."""
    names = [slip.id for slip in catalogue().slips][group::3]
    assert {slip.id for slip in fly_to_end(Flight(slips=names, rate_hz=1))} == set(names)


def test_slips_differ_in_seat_and_kind() -> None:
    """The catalogue has at least twelve, of every kind; the demonstration uses eight of them."""
    scenario = catalogue()
    assert len(scenario.slips) >= 12
    assert {slip.kind.value for slip in scenario.slips} == {
        "skip",
        "too_early",
        "undo",
        "wrong_value",
        "wrong_order",
    }
    assert len(scenario.demo) == 8


def test_the_record_has_the_time_of_each_slip() -> None:
    """All slips of the demonstration are recorded in the order of time, inside the flight."""
    flight = Flight(slips=["demo"], rate_hz=2)
    records = fly_to_end(flight)
    assert {slip.id for slip in records} == set(catalogue().demo)
    times = [slip.sim_s for slip in records]
    assert times == sorted(times)
    assert 0 < times[0] < times[-1] < 900


def test_the_same_seed_gives_the_same_flight() -> None:
    """Two flights with one seed are equal to the last digit, with noise; another seed gives another flight."""

    def first_minutes(seed: int) -> tuple[list[FlightMoment], dict[str, float]]:
        flight = Flight(seed=seed, rate_hz=2)
        return list(islice(flight, 500)), flight.crew.step_times_s

    one = first_minutes(7)
    assert one == first_minutes(7)
    moments, step_times_s = first_minutes(8)
    assert moments[-1].state != one[0][-1].state
    assert step_times_s != one[1]


@pytest.mark.parametrize("rate_hz", [0.0, -1.0, 101.0, float("nan")])
def test_an_impossible_rate_is_refused(rate_hz: float) -> None:
    """Rates below one moment in ten seconds and above a hundred a second are refused."""
    with pytest.raises(ValueError, match=r"0\.1 to 100 moments a second"):
        Flight(rate_hz=rate_hz)


@pytest.mark.parametrize("rate_hz", [1, 20, 100])
def test_moments_come_at_their_rate(rate_hz: float) -> None:
    """From 1 to 100 in a second, evenly, and the aeroplane's own clock agrees."""
    flight = Flight(rate_hz=rate_hz)
    times = [moment.sim_s for moment, _ in zip(flight, range(5), strict=False)]
    assert times == [round(count / rate_hz, 6) for count in range(5)]
    assert flight.aeroplane.sim_s == pytest.approx(5 / rate_hz)


def test_an_endless_scenario_is_an_error() -> None:
    """A stuck flight ends with a message that gives what each seat waits for."""
    text = {
        "name": "endless",
        "title": "Endless",
        "world": {},
        "trip": {},
        "longest_s": 3,
        "ends": [{"done": "captain.a"}],
        "seats": {"captain": [{"key": "a", "wait": [{"signal": "flight.airspeed", "at_least": 60}]}]},
    }
    with pytest.raises(StuckError, match=r"did not end within 3\.1 s; captain at a"):
        list(Flight(Scenario.model_validate(text)))


def test_the_departure_names_only_what_the_aeroplane_has() -> None:
    """Checked against another aeroplane, the departure's controls are faults, so the check is not an empty one."""
    with pytest.raises(Exception, match=r"unknown control electrical\.battery\.switch"):
        load_scenario("departure", AeroplaneInterface(KNOWN.controls, KNOWN.signals))


def test_a_resumed_flight_has_the_calls_of_its_checkpoint() -> None:
    """The first moment after a checkpoint has the calls of that moment, so that none is lost between two flights."""
    flight, resumed = Flight(noise=False), Flight(noise=False)
    moment = next(moment for moment in flight if moment.calls)
    assert next(iter(resumed.resume_from(flight.checkpoint()))).calls == moment.calls
