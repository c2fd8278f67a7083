"""Autoflight: what engages when, and what falls out."""

from __future__ import annotations

from mock_sim.aeroplane import Aeroplane
from tests.mock_sim.aeroplane.hangar import put


def test_flight_directors_need_their_bus(dark: Aeroplane) -> None:
    """A flight director reads off without power."""
    dark.set("autoflight.flight_director.left", "on")
    dark.run(0.5)
    assert dark.get("autoflight.flight_director.left") == "off"


def test_the_yaw_damper_needs_hydraulics(powered: Aeroplane) -> None:
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


def test_no_autopilot_on_the_ground(running: Aeroplane) -> None:
    """An autopilot does not engage on the ground."""
    running.set("autoflight.pilot.1", "on")
    running.run(0.5)
    assert running.get("autoflight.pilot.1") == "off"


def test_a_mode_needs_somebody_to_follow_it(powered: Aeroplane) -> None:
    """Without flight director or autopilot a mode falls back to off; with one it stays."""
    powered.set("autoflight.lateral_mode", "heading")
    powered.run(0.5)
    assert powered.get("autoflight.lateral_mode") == "off"
    put(powered, {"autoflight.flight_director.left": "on", "autoflight.lateral_mode": "heading"})
    powered.run(0.5)
    assert powered.get("autoflight.lateral_mode") == "heading"


def test_autothrust_needs_its_arm_switch(powered: Aeroplane) -> None:
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
