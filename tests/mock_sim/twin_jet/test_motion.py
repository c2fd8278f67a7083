"""Motion: pushed, taxied, taken off and flown in simplified mechanics."""

from __future__ import annotations

from copy import deepcopy
from math import hypot

import pytest

from mock_sim.twin_jet import Halyard220
from mock_sim.twin_jet.airports import START_LATITUDE, START_LONGITUDE
from tests.mock_sim.twin_jet.twin_jet_steps import number, put


def _free(aeroplane: Halyard220) -> Halyard220:
    """Take chocks and parking brake away."""
    return put(aeroplane, {"gear.chocks": "removed", "gear.parking_brake": "released"})


def _thrust(aeroplane: Halyard220, lever: float) -> None:
    """Both thrust levers."""
    put(aeroplane, {"engine.1.thrust_lever": lever, "engine.2.thrust_lever": lever})


def _take_off(aeroplane: Halyard220) -> None:
    """Take off and climb away to 600 ft with the gear up."""
    _free(aeroplane)
    put(aeroplane, {"controls.flap.lever": 8.0, "controls.stabiliser_trim": 5.2})
    aeroplane.run(6.0)
    _thrust(aeroplane, 89.0)
    for _ in range(300):
        aeroplane.run(0.2)
        rotate = number(aeroplane, "flight.airspeed") > 132.0 and number(aeroplane, "flight.pitch") < 12.0
        aeroplane.set("controls.column", 60.0 if rotate else 0.0)
        if number(aeroplane, "flight.height") > 50.0:
            aeroplane.set("gear.lever", "up")
        if number(aeroplane, "flight.height") > 600.0:
            return
    raise AssertionError("it did not fly")


def test_the_tug_pushes_back_and_turns(pressed: Halyard220) -> None:
    """A push moves the aeroplane backwards at the tug's speed, turns the nose, and moves the place."""
    _free(put(pressed, {"gear.tug": "attached", "gear.bypass_pin": "inserted", "tug.speed": -3.0}))
    heading = number(pressed, "flight.heading")
    pressed.run(20.0)
    assert number(pressed, "flight.ground_speed") == pytest.approx(3.0, abs=0.05)
    assert number(pressed, "flight.heading") == pytest.approx(heading)
    track = number(pressed, "flight.track")
    assert track == pytest.approx((heading + 180.0) % 360.0, abs=0.1)
    pressed.set("tug.turn", 40.0)
    pressed.run(15.0)
    assert number(pressed, "flight.heading") < heading - 10.0
    moved = hypot(
        number(pressed, "flight.latitude") - START_LATITUDE,
        number(pressed, "flight.longitude") - START_LONGITUDE,
    )
    assert 1e-4 < moved < 2e-3
    pressed.set("tug.speed", 0.0)
    pressed.run(10.0)
    assert number(pressed, "flight.ground_speed") == 0.0


@pytest.mark.parametrize("holder", [{"gear.parking_brake": "set"}, {"gear.chocks": "on"}])
def test_the_tug_cannot_push_a_held_aeroplane(pressed: Halyard220, holder: dict[str, str]) -> None:
    """The aeroplane does not move with the parking brake set or chocks in place."""
    _free(pressed)
    put(pressed, holder)
    put(pressed, {"gear.tug": "attached", "tug.speed": -3.0})
    pressed.run(10.0)
    assert number(pressed, "flight.ground_speed") == 0.0


def test_idle_thrust_does_not_move_it_and_more_does(running: Halyard220) -> None:
    """Idle thrust does not move the aeroplane, more thrust does, and brakes stop it."""
    _free(running)
    running.run(10.0)
    assert number(running, "flight.ground_speed") == 0.0
    _thrust(running, 25.0)
    running.run(15.0)
    assert number(running, "flight.ground_speed") > 4.0
    _thrust(running, 0.0)
    put(running, {"gear.brake_pedal.left": 60.0, "gear.brake_pedal.right": 60.0})
    running.run(8.0)
    assert number(running, "flight.ground_speed") == 0.0
    running.run(2.0)
    assert number(running, "flight.ground_speed") == 0.0


def test_the_tiller_turns_the_aeroplane(running: Halyard220) -> None:
    """With the tiller to the right the rolling aeroplane turns right; without it the heading stays."""
    _free(running)
    _thrust(running, 25.0)
    running.run(15.0)
    before = number(running, "flight.heading")
    running.run(3.0)
    assert number(running, "flight.heading") == pytest.approx(before, abs=0.05)
    running.set("gear.tiller", 30.0)
    running.run(4.0)
    assert 3.0 < (number(running, "flight.heading") - before) % 360.0 < 120.0


def test_a_headwind_is_airspeed(dark: Halyard220) -> None:
    """A parked aeroplane with a headwind has airspeed and no ground speed."""
    put(dark, {"weather.wind_direction": 233.0, "weather.wind_speed": 20.0})
    dark.run(1.0)
    assert number(dark, "flight.airspeed") == pytest.approx(20.0, abs=1.0)
    assert number(dark, "flight.ground_speed") == 0.0
    dark.set("weather.wind_direction", 53.0)
    dark.run(1.0)
    assert number(dark, "flight.airspeed") == 0.0


def test_it_takes_off_and_climbs(running: Halyard220) -> None:
    """At take-off thrust it reaches 100 kt in a plausible time, rotates, lifts off and climbs with the gear coming up."""
    _take_off(running)
    assert running.get("flight.on_ground") == "no"
    assert 130.0 < number(running, "flight.airspeed") < 200.0
    assert number(running, "flight.vertical_speed") > 1000.0
    assert number(running, "flight.wheel_speed") == 0.0
    running.run(12.0)
    assert number(running, "gear.left.position") == 0.0
    assert running.get("gear.left.locked") == "no"
    assert running.get("gear.disagree") == "off"


def test_acceleration_is_that_of_a_jet(running: Halyard220) -> None:
    """From 20 to 100 kt takes 10 to 20 s: 0.2 to 0.4 g."""
    _free(running)
    _thrust(running, 89.0)
    times: dict[float, float] = {}
    for tick in range(400):
        running.run(0.1)
        for mark in (20.0, 100.0):
            if number(running, "flight.ground_speed") >= mark:
                times.setdefault(mark, tick * 0.1)
    assert 10.0 < times[100.0] - times[20.0] < 20.0


def _lift_off_kt(aeroplane: Halyard220) -> float:
    """The speed at which it leaves the ground with the column held back from 100 kt on."""
    _thrust(_free(aeroplane), 89.0)
    while aeroplane.get("flight.on_ground") == "yes":
        aeroplane.run(0.2)
        aeroplane.set("controls.column", 100.0 if number(aeroplane, "flight.airspeed") > 100.0 else 0.0)
        assert number(aeroplane, "flight.airspeed") < 220.0
    return number(aeroplane, "flight.airspeed")


def test_without_flaps_it_leaves_the_ground_later(running: Halyard220) -> None:
    """Without flaps and slats the lift-off speed is at least 15 kt higher."""
    flapped = deepcopy(running)
    flapped.set("controls.flap.lever", 8.0)
    flapped.run(10.0)
    assert _lift_off_kt(running) > _lift_off_kt(flapped) + 15.0


def test_the_autopilot_flies_heading_and_altitude(running: Halyard220) -> None:
    """Engaged in flight it turns to the heading and levels at the altitude that are set."""
    _take_off(running)
    put(
        running,
        {"autoflight.flight_director.left": "on", "autoflight.pilot.1": "on", "autoflight.heading": 200.0},
    )
    put(
        running,
        {
            "altimeter.captain.setting": 1009.0,
            "autoflight.altitude": 3000.0,
            "autoflight.lateral_mode": "heading",
            "autoflight.speed": 200.0,
        },
    )
    put(running, {"autoflight.vertical_mode": "climb", "controls.flap.lever": 0.0})
    running.run(40.0)
    assert running.get("autoflight.pilot.1") == "on"
    _thrust(running, 40.0)
    running.run(120.0)
    assert number(running, "flight.heading") == pytest.approx(200.0, abs=2.0)
    assert number(running, "flight.altitude") == pytest.approx(3000.0, abs=60.0)


def test_the_aeroplane_lands(running: Halyard220) -> None:
    """After a gentle descent with the gear down the aeroplane rolls on its wheels."""
    _take_off(running)
    running.set("gear.lever", "down")
    _thrust(running, 20.0)
    for _ in range(600):
        running.run(0.2)
        low = number(running, "flight.height") < 60.0
        wanted = 5.0 if low else 1.0
        running.set("controls.column", 40.0 * max(-1.0, min(1.0, wanted - number(running, "flight.pitch"))))
        if running.get("flight.on_ground") == "yes":
            break
    assert running.get("flight.on_ground") == "yes"
    assert number(running, "flight.height") == 0.0
    assert number(running, "flight.wheel_speed") > 60.0


def test_place_moves_the_aeroplane(dark: Halyard220) -> None:
    """After `place` the aeroplane is at that position, on its wheels, with that heading; an impossible position is refused."""
    dark.place(46.8, -21.4, 143.0)
    dark.run(0.1)
    assert number(dark, "flight.latitude") == 46.8
    assert number(dark, "flight.longitude") == pytest.approx(-21.4)
    assert number(dark, "flight.heading") == 143.0
    with pytest.raises(ValueError, match="not a position"):
        dark.place(91.0, 0.0, 0.0)
