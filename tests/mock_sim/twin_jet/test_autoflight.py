"""Tests of autoflight: what engages when, and what disengages."""

from __future__ import annotations

import pytest

from mock_sim.twin_jet import Halyard220
from tests.mock_sim.twin_jet.twin_jet_steps import lift, number, put


def test_flight_directors_need_their_bus(dark: Halyard220) -> None:
    """A flight director reads off without power."""
    dark.set("autoflight.flight_director.left", "on")
    dark.run(0.5)
    assert dark.get("autoflight.flight_director.left") == "off"


def test_the_yaw_damper_needs_hydraulics(powered: Halyard220) -> None:
    """Its switch does not stay on without pressure, and does with it."""
    powered.set("autoflight.yaw_damper", "on")
    powered.run(1.0)
    assert powered.get("autoflight.yaw_damper") == "off"
    powered.set("hydraulics.1.pump.electric.switch", "on")
    powered.run(10.0)
    assert powered.get("autoflight.yaw_damper") == "off"
    powered.set("autoflight.yaw_damper", "on")
    powered.run(1.0)
    assert powered.get("autoflight.yaw_damper") == "on"


def test_no_autopilot_on_the_ground(running: Halyard220) -> None:
    """An autopilot does not engage on the ground."""
    running.set("autoflight.pilot.1", "on")
    running.run(0.5)
    assert running.get("autoflight.pilot.1") == "off"


def test_a_mode_needs_a_flight_director_or_autopilot(powered: Halyard220) -> None:
    """Without flight director or autopilot a mode becomes off; with one it stays."""
    powered.set("autoflight.lateral_mode", "heading")
    powered.run(0.5)
    assert powered.get("autoflight.lateral_mode") == "off"
    put(powered, {"autoflight.flight_director.left": "on", "autoflight.lateral_mode": "heading"})
    powered.run(0.5)
    assert powered.get("autoflight.lateral_mode") == "heading"


def test_autothrust_needs_its_arm_switch(powered: Halyard220) -> None:
    """A thrust mode shows only while the arm switch is armed; armed alone shows armed."""
    powered.set("autoflight.thrust_mode", "takeoff")
    powered.run(0.5)
    assert powered.get("autoflight.thrust_mode") == "off"
    powered.set("autoflight.thrust_arm", "armed")
    powered.run(0.5)
    assert powered.get("autoflight.thrust_mode") == "armed"
    powered.set("autoflight.thrust_mode", "takeoff")
    powered.run(0.5)
    assert powered.get("autoflight.thrust_mode") == "takeoff"


def _in_the_air(aeroplane: Halyard220, altitude_ft: float) -> None:
    """Put the aeroplane into level flight with autopilot 1 and an armed autothrust."""
    lift(aeroplane, altitude_ft, 140.0)
    put(
        aeroplane,
        {"autoflight.flight_director.left": "on", "autoflight.thrust_arm": "armed", "gear.lever": "up"},
    )
    put(
        aeroplane,
        {"altimeter.captain.setting": 1009.0, "autoflight.altitude": altitude_ft, "autoflight.speed": 240.0},
    )
    aeroplane.run(0.2)
    put(
        aeroplane,
        {
            "autoflight.pilot.1": "on",
            "autoflight.vertical_mode": "altitude",
            "autoflight.thrust_mode": "speed",
        },
    )


def test_autothrust_holds_the_speed(running: Halyard220) -> None:
    """In level flight the levers move by themselves until the speed is the one that is set, and both alike."""
    _in_the_air(running, 6000.0)
    running.run(150.0)
    assert number(running, "flight.airspeed") == pytest.approx(240.0, abs=3.0)
    assert number(running, "engine.1.thrust_lever") == number(running, "engine.2.thrust_lever") > 20.0
    assert number(running, "flight.altitude") == pytest.approx(6000.0, abs=30.0)


def test_autothrust_leaves_the_levers_alone_on_the_ground(running: Halyard220) -> None:
    """With autothrust armed and in speed mode the levers do not move before lift-off."""
    put(running, {"autoflight.thrust_arm": "armed", "autoflight.thrust_mode": "speed"})
    running.run(5.0)
    assert number(running, "engine.1.thrust_lever") == 0.0


def test_a_new_altitude_needs_a_mode(running: Halyard220) -> None:
    """In altitude mode the old altitude is held when another one is set; the descent begins with its mode and ends by itself."""
    _in_the_air(running, 6000.0)
    running.run(10.0)
    running.set("autoflight.altitude", 4500.0)
    running.run(20.0)
    assert number(running, "flight.altitude") == pytest.approx(6000.0, abs=40.0)
    put(running, {"autoflight.vertical_mode": "descent", "autoflight.thrust_mode": "idle"})
    running.run(120.0)
    assert (running.get("autoflight.vertical_mode"), running.get("autoflight.thrust_mode")) == (
        "altitude",
        "speed",
    )
    assert number(running, "flight.altitude") == pytest.approx(4500.0, abs=60.0)


def test_an_autopilot_stays_on_below_the_height_at_which_it_engages(running: Halyard220) -> None:
    """Engaged above 400 ft it stays engaged at 200 ft, and cannot be engaged again there."""
    _in_the_air(running, 6000.0)
    running.run(1.0)
    lift(running, 410.0, 140.0)
    running.run(0.3)
    assert running.get("autoflight.pilot.1") == "on"
    put(running, {"autoflight.pilot.1": "off"})
    running.run(0.1)
    put(running, {"autoflight.pilot.1": "on"})
    running.run(0.1)
    assert running.get("autoflight.pilot.1") == "off"
