"""Ice protection: heat needs power, valves need air and time, the detector needs weather."""

from __future__ import annotations

import pytest

from mock_sim.twin_jet import Halyard220
from tests.mock_sim.twin_jet.twin_jet_steps import put


@pytest.mark.parametrize("what", ["air_data", "windshield"])
def test_heat_needs_its_bus(dark: Halyard220, what: str) -> None:
    """A heater that is switched on reads off until its bus is powered."""
    put(dark, {f"ice.{what}.left": "on", f"ice.{what}.right": "on"})
    dark.run(1.0)
    assert dark.get(f"ice.{what}.left") == "off"
    put(dark, {"electrical.battery.switch": "on", "electrical.external.switch": "on"})
    dark.run(1.0)
    assert dark.get(f"ice.{what}.left") == dark.get(f"ice.{what}.right") == "on"


def test_an_engine_valve_opens_after_two_seconds_of_a_running_engine(running: Halyard220) -> None:
    """The valve follows its switch with a delay, and closes when the engine stops."""
    running.set("ice.engine.1", "on")
    running.run(1.0)
    assert running.get("ice.engine.valve.1") == "closed"
    running.run(2.0)
    assert running.get("ice.engine.valve.1") == "open"
    assert running.get("ice.engine.valve.2") == "closed"
    running.set("engine.1.fuel_lever", "closed")
    running.run(6.0)
    assert running.get("ice.engine.valve.1") == "closed"


def test_the_wing_valve_needs_duct_pressure(powered: Halyard220) -> None:
    """Without air the wing valve stays shut; ground air opens it."""
    powered.set("ice.wing", "on")
    powered.run(4.0)
    assert powered.get("ice.wing_valve") == "closed"
    powered.set("bleed.ground_air", "connected")
    powered.run(6.0)
    assert powered.get("ice.wing_valve") == "open"


def test_the_detector_needs_cold_moisture_and_moving_air(running: Halyard220) -> None:
    """The detector senses ice in moist cold air at a running engine, not in dry or warm air."""
    put(running, {"weather.visible_moisture": "yes", "flight.outside_air_temperature": 1.0})
    running.run(1.0)
    assert running.get("ice.detected") == "yes"
    running.set("flight.outside_air_temperature", 15.0)
    running.run(1.0)
    assert running.get("ice.detected") == "no"
    put(running, {"weather.visible_moisture": "no", "flight.outside_air_temperature": 1.0})
    running.run(1.0)
    assert running.get("ice.detected") == "no"
