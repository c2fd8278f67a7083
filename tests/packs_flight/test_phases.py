"""Rejected take-off, return to parking, another runway, go-around, engine failure, second sector.

None of them confuses the phases, and a phase that is entered again needs its items again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from rules.signals.model import Value
from tests.packs_flight.recorded_sector import CleanSector, JudgedFlight, Moment, State, shifted


def hold(moment: Moment, seconds: int, changes: Mapping[str, Value]) -> list[Moment]:
    """The same state for some seconds, with changes."""
    state = {**moment.state, **changes}
    return [Moment(moment.sim_s + n, state, ()) for n in range(1, seconds + 1)]


def continued_from(last_s: float, moments: Iterable[Moment]) -> list[Moment]:
    """These moments again, from a second after that time."""
    listed = list(moments)
    return shifted(listed, last_s + 1.0 - listed[0].sim_s)


def end_s(moments: list[Moment]) -> float:
    """Time of the last moment."""
    return moments[-1].sim_s


def stop_moments(from_s: float, state: State) -> list[Moment]:
    """A rejected take-off: levers closed, spoilers up, reverse, a stop on the runway, and everything reset."""
    levers: dict[str, Value] = {
        "engine.1.thrust_lever": -20.0,
        "engine.2.thrust_lever": -20.0,
        "controls.speedbrake.lever": "full",
    }
    spoilers = {"controls.spoiler.left": 100.0, "controls.spoiler.right": 100.0}
    reverse = {"engine.1.reverser": "deployed", "engine.2.reverser": "deployed"}
    moments = []
    for n in range(1, 26):
        speed = max(0.0, 90.0 - 4.0 * n)
        thrust = max(22.0, 92.0 - 12.0 * n)
        air = dict.fromkeys(AIRSPEEDS, speed + 8.0 if speed > 25.0 else 0.0)
        rotors = {"engine.1.n1": thrust, "engine.2.n1": thrust, "engine.1.n2": 70.0, "engine.2.n2": 70.0}
        now: dict[str, Value] = {**state, **levers, **spoilers, **air, **rotors, "flight.ground_speed": speed}
        moments.append(Moment(from_s + n, now | (reverse if 2 < n < 20 else {}), ()))
    idle: dict[str, Value] = {
        "engine.1.thrust_lever": 0.0,
        "engine.2.thrust_lever": 0.0,
        "controls.speedbrake.lever": "stowed",
        "gear.parking_brake": "set",
    }
    put_away: dict[str, Value] = {
        "controls.spoiler.left": 0.0,
        "controls.spoiler.right": 0.0,
        "gear.brake_temperature": 220.0,
    }
    reset = {"engine.1.reverser": "stowed", "engine.2.reverser": "stowed"}
    return moments + hold(moments[-1], 70, {**idle, **put_away, **reset})


AIRSPEEDS = ("flight.airspeed", "airspeed.captain", "airspeed.first_officer", "airspeed.standby")


def fly_rejected_takeoff(clean: CleanSector) -> tuple[JudgedFlight, float]:
    """Flown up to 90 kt and stopped; give the time of the end."""
    go_s = clean.judged.phase_s("high_speed") + 3.0
    judged = JudgedFlight(clean.judge()).play(clean.between(0, go_s))
    stop = stop_moments(go_s, clean.state_at(go_s))
    judged.play(stop)
    return judged, end_s(stop)


def test_a_rejected_take_off_leads_back_to_the_taxi(clean: CleanSector) -> None:
    """The roll becomes a rejected take-off, then the taxi; a correct stop gives no notice."""
    judged, _ = fly_rejected_takeoff(clean)
    assert judged.phases[-3:] == ["high_speed", "rejected", "taxi"]
    assert judged.found == {}


def test_spoilers_that_stay_in_are_reported_in_a_rejected_take_off(clean: CleanSector) -> None:
    """Missing spoilers give a notice at once."""
    go_s = clean.judged.phase_s("high_speed") + 3.0
    judged = JudgedFlight(clean.judge()).play(clean.between(0, go_s))
    flat = {"controls.spoiler.left": 0.0, "controls.spoiler.right": 0.0}
    judged.play(stop_moments(go_s, clean.state_at(go_s)), flat)
    assert judged.found == {"watch.spoilers_in_rejected": "omitted"}


def test_after_a_rejected_take_off_the_next_one_is_prepared_again(clean: CleanSector) -> None:
    """A correct second try gives no notice; without the calls and with flaps in, both are found again."""
    taxi = clean.between(clean.judged.phase_s("line_up") - 60.0, clean.judged.phase_s("initial_climb"))
    judged, last_s = fly_rejected_takeoff(clean)
    judged.play(continued_from(last_s, taxi))
    assert judged.phases[-6:] == ["taxi", "line_up", "takeoff", "high_speed", "rotation", "initial_climb"]
    assert judged.found == {}
    judged, last_s = fly_rejected_takeoff(clean)
    flaps: dict[str, Value] = {
        "controls.flap.lever": 0.0,
        "controls.flap.position": 0.0,
        "controls.slat.position": "retracted",
    }
    judged.play(continued_from(last_s, taxi), flaps, calls_left_out=("takeoff_clearance",))
    assert judged.found["flow.before_taxi.flaps"] in ("omitted", "undone", "wrong_value")
    assert judged.found["flow.line_up.clearance"] == "omitted"


def fly_return_to_stand(clean: CleanSector) -> tuple[JudgedFlight, float]:
    """Taxied out, back to the stand, engines off; give the time of the end."""
    out_s = clean.judged.phase_s("taxi") + 60.0
    taxied = clean.between(0, out_s)
    standing: dict[str, Value] = {"flight.ground_speed": 0.0, "gear.parking_brake": "set"}
    brake = hold(taxied[-1], 10, {**standing, "engine.1.thrust_lever": 0.0, "engine.2.thrust_lever": 0.0})
    off: dict[str, Value] = {**standing, "engine.1.fuel_lever": "closed", "engine.2.fuel_lever": "closed"}
    rotors = {"engine.1.n1": 2.0, "engine.2.n1": 2.0, "engine.1.n2": 6.0, "engine.2.n2": 6.0}
    cut = hold(brake[-1], 40, off | {"engine.1.n2": 30.0, "engine.2.n2": 30.0})
    stopped = hold(cut[-1], 20, off | rotors)
    judged = JudgedFlight(clean.judge()).play([*taxied, *brake, *cut, *stopped])
    return judged, end_s(stopped)


def test_after_a_return_to_the_stand_the_aeroplane_is_shut_down(clean: CleanSector) -> None:
    """With engines off at the stand before the flight, the next phase is the shutdown, as after a flight."""
    judged, _ = fly_return_to_stand(clean)
    assert judged.phases[-2:] == ["taxi", "shutdown"]
    flows = {item.split(".")[1] for item in judged.found if not item.startswith("watch.")}
    assert flows <= {"after_landing", "shut_down_ready", "parking", "secure"}


def test_after_a_return_to_the_stand_every_item_is_required_again(clean: CleanSector) -> None:
    """The clearances of the first try do not count for the second, and a correct second one gives no notice."""
    second_start = clean.between(clean.judged.phase_s("before_start"), clean.judged.phase_s("taxi") + 20.0)
    judged, last_s = fly_return_to_stand(clean)
    before = set(judged.found)
    judged.play(continued_from(last_s, second_start))
    assert set(judged.found) == before
    assert judged.phases[-6:] == [
        "before_start", "push_back", "engine_start", "after_start", "before_taxi", "taxi",
    ]  # fmt: skip
    judged, last_s = fly_return_to_stand(clean)
    judged.play(
        continued_from(last_s, second_start),
        calls_left_out=("push_approved", "start_approved", "taxi_clearance"),
    )
    assert judged.found["watch.brake_before_push"] == "too_early"
    assert judged.found["flow.start_ready.start_clearance"] == "omitted"
    assert judged.found["watch.brake_before_taxi"] == "too_early"


NEW_RUNWAY: dict[str, Value] = {"trip.runway": "32", "trip.runway_heading": 323.0, "trip.v1": 124.0}


def test_another_runway_opens_what_its_trip_values_change(clean: CleanSector) -> None:
    """After a new trip sheet in the taxi the old speeds and runway are found before line-up, nothing before."""
    change_s = clean.judged.phase_s("taxi") + 40.0
    judged = JudgedFlight(clean.judge()).play(clean.between(0, change_s))
    assert judged.found == {}
    judged.entries += judged.judge.update_trip(NEW_RUNWAY)
    judged.play(clean.between(change_s + 0.1, clean.judged.cued_s("line_up") + 3.0))
    assert judged.found["flow.panel_entries.v1_captain"] == "wrong_value"
    assert "undone" not in judged.found.values()
    judged.play(clean.between(clean.judged.cued_s("line_up") + 3.1, clean.judged.cued_s("takeoff") + 5.0))
    assert judged.found["flow.line_up.runway_heading"] == "wrong_value"
    assert judged.found["flow.line_up.runway_still"] == "wrong_value"


def go_around_moments(at_s: float, state: State) -> list[Moment]:
    """The climb of a correct go-around, until it is level."""
    moments = []
    for n in range(1, 100):
        height = min(2600.0, 400.0 + 30.0 * n)
        level = height >= 2600.0
        up = {
            "flight.height": height,
            "radio_altitude": min(2500.0, height),
            "flight.altitude": height + 640.0,
            "flight.pressure_altitude": height + 900.0,
            "altimeter.captain.altitude": height + 640.0,
            "altimeter.first_officer.altitude": height + 640.0,
            "altimeter.standby.altitude": height + 640.0,
            "flight.vertical_speed": 0.0 if level else 1800.0,
            "flight.pitch": 4.0 if level else 12.0,
            "engine.1.n1": 60.0 if level else 90.0,
            "engine.2.n1": 60.0 if level else 90.0,
            "autoflight.vertical_mode": "altitude" if level else "go_around",
            "autoflight.altitude": 3300.0,
            "controls.flap.lever": 20.0,
            "controls.flap.position": 28.0 if n < 3 else 20.0,
            "controls.speedbrake.lever": "stowed",
            "gear.lever": "down" if n < 5 else "up",
            **{f"gear.{leg}.position": 100.0 if n < 6 else 0.0 for leg in ("nose", "left", "right")},
            **{f"gear.{leg}.locked": "down" if n < 6 else "no" for leg in ("nose", "left", "right")},
            **dict.fromkeys(AIRSPEEDS, 150.0),
        }
        moments.append(Moment(at_s + n, {**state, **up}, ()))
    return moments


def fly_go_around(
    clean: CleanSector, change: Mapping[str, Value] | None = None
) -> tuple[JudgedFlight, float]:
    """Flown to 400 ft on final, and gone around; give the time of the end of the climb."""
    at_s = clean.judged.phase_s("short_final") + 6.0
    judged = JudgedFlight(clean.judge()).play(clean.between(0, at_s))
    climb = go_around_moments(at_s, clean.state_at(at_s))
    return judged.play(climb, change), end_s(climb)


def test_a_go_around_leads_back_to_the_approach(clean: CleanSector) -> None:
    """A correct go-around gives no notice, and becomes an approach again once it is level."""
    judged, _ = fly_go_around(clean)
    assert judged.phases[-3:] == ["short_final", "go_around", "approach"]
    assert judged.found == {}


def test_after_a_go_around_the_landing_is_prepared_again(clean: CleanSector) -> None:
    """A correct next landing gives no notice; without its checklist and clearance it does."""
    second_approach = clean.between(clean.judged.phase_s("final") - 220.0, clean.judged.phase_s("taxi_in"))
    judged, last_s = fly_go_around(clean)
    judged.play(continued_from(last_s, second_approach))
    assert judged.phases[-5:] == ["approach", "final", "short_final", "landing", "taxi_in"]
    assert judged.found == {}
    judged, last_s = fly_go_around(clean)
    judged.play(
        continued_from(last_s, second_approach), calls_left_out=("landing_checklist", "landing_clearance")
    )
    assert judged.found == {
        "flow.landing_configuration.landing_call": "omitted",
        "flow.touchdown.landing_clearance": "omitted",
    }


def test_a_go_around_with_landing_flaps_and_gear_is_found(clean: CleanSector) -> None:
    """Flaps that stay at landing and a gear that stays down give notices during the climb."""
    left: dict[str, Value] = {
        "controls.flap.lever": 28.0,
        "controls.flap.position": 28.0,
        "gear.lever": "down",
    }
    judged, _ = fly_go_around(clean, left)
    assert judged.found["watch.go_around_flaps"] == "omitted"
    assert judged.found["flow.go_around.go_around_gear"] == "omitted"


def climb_in_the_descent(moment: Moment, seconds: int = 90) -> list[Moment]:
    """Up 1 800 ft, and down again, as the controller asks for another level."""
    moments = []
    for n in range(1, 2 * seconds + 1):
        rises_ft, up = 20.0 * min(n, 2 * seconds - n), n <= seconds
        higher = {name: float(moment.state[name]) + rises_ft for name in HEIGHTS if name in moment.state}
        mode = {"autoflight.vertical_mode": "climb" if up else "descent"}
        now = {**moment.state, **higher, **mode, "flight.vertical_speed": 1200.0 if up else -1200.0}
        moments.append(Moment(moment.sim_s + n, now, ()))
    return moments


HEIGHTS = (
    "flight.height", "flight.altitude", "flight.pressure_altitude", "altimeter.captain.altitude",
    "altimeter.first_officer.altitude", "altimeter.standby.altitude",
)  # fmt: skip


def test_a_climb_in_the_descent_needs_nothing_and_voids_nothing(clean: CleanSector) -> None:
    """The briefing and the lists of the cruise count after it: a correct approach and landing give no notice."""
    before = clean.between(0, clean.judged.phase_s("approach") - 240.0)
    climb = climb_in_the_descent(before[-1])
    after = clean.between(end_s(before) + 0.1, clean.judged.phase_s("taxi_in"))
    judged = JudgedFlight(clean.judge()).play([*before, *climb, *continued_from(end_s(climb), after)])
    assert judged.phases[-8:] == [
        "descent", "climb_again", "descent", "approach", "final", "short_final", "landing", "taxi_in",
    ]  # fmt: skip
    assert judged.found == {}


def test_an_engine_failure_after_take_off_keeps_the_phases(clean: CleanSector) -> None:
    """The notice names the engine, and the phases are still initial climb and climb."""
    fail_s = clean.judged.phase_s("initial_climb") + 3.0
    dead: dict[str, Value] = {
        "engine.1.n1": 18.0, "engine.1.n2": 22.0, "engine.1.egt": 320.0, "engine.1.oil_pressure": 20.0,
        "engine.1.running": "no", "engine.1.fuel_flow": 0.0,
    }  # fmt: skip

    def failed(sim_s: float, _: State) -> Mapping[str, Value]:
        return dead if sim_s >= fail_s else {}

    judged = JudgedFlight(clean.judge()).play(clean.between(0, clean.judged.phase_s("climb") + 20.0), failed)
    assert judged.phases[-3:] == ["rotation", "initial_climb", "climb"]
    assert judged.found == {"watch.engine_failure.1": "aeroplane_event"}


def test_a_second_sector_on_the_same_day_is_like_the_first(clean: CleanSector) -> None:
    """The second sector has the same phases in the same order, and no findings."""
    both_sectors = JudgedFlight(clean.judge()).play(clean.moments)
    first = list(both_sectors.phases)
    both_sectors.entries += both_sectors.judge.update_trip(dict(clean.trip.values))
    both_sectors.play(continued_from(end_s(clean.moments), clean.moments))
    assert both_sectors.phases == first + first
    assert [f.sentence for f in both_sectors.judge.findings] == []


def test_the_calls_of_the_first_sector_do_not_count_for_the_second(clean: CleanSector) -> None:
    """Clearances, briefings and checklists of the first sector do not count for the second."""
    both_sectors = JudgedFlight(clean.judge()).play(clean.moments)
    upto = clean.between(0, clean.judged.phase_s("engine_start") + 5.0)
    both_sectors.play(
        continued_from(end_s(clean.moments), upto),
        calls_left_out=("atc_clearance", "departure_briefing", "push_approved"),
    )
    assert both_sectors.found["flow.panel_entries.clearance"] == "omitted"
    assert both_sectors.found["flow.preflight.briefing"] == "omitted"
    assert both_sectors.found["watch.brake_before_push"] == "too_early"
