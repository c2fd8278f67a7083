"""Tests of tanks, selector, pumps, pressure, and an engine that runs dry."""

from __future__ import annotations

import pytest

from mock_sim.piston import Halyard12
from tests.mock_sim.piston.piston_steps import number, put


def test_pressure_by_pump(parked: Halyard12, running: Halyard12) -> None:
    """The electric pump gives pressure without the engine, the engine's own pump without the electric one."""
    put(parked, {"fuel.selector": "both", "electrical.battery.switch": "on"}).run(2.0)
    assert number(parked, "fuel.pressure") < 0.5
    put(parked, {"fuel.pump.auxiliary.switch": "on"}).run(4.0)
    assert number(parked, "fuel.pressure") == pytest.approx(4.6, abs=0.2)
    assert number(running, "fuel.pressure") > 4.5
    put(running, {"fuel.pump.auxiliary.switch": "on"}).run(4.0)
    assert number(running, "fuel.pressure") > 5.4


def test_the_electric_pump_helps_when_the_engine_pump_fails(running: Halyard12) -> None:
    """Without its own pump the engine stops within minutes; with the electric pump it runs on."""
    put(running, {"fault.fuel_pump": "engine", "fuel.pump.auxiliary.switch": "on"}).run(200.0, 0.5)
    assert running.get("engine.1.running") == "yes"
    put(running, {"fuel.pump.auxiliary.switch": "off"}).run(200.0, 0.5)
    assert running.get("engine.1.running") == "no"


@pytest.mark.parametrize(
    ("selector", "left", "right"), [("left", True, False), ("right", False, True), ("both", True, True)]
)
def test_the_selected_tank_goes_down(running: Halyard12, selector: str, left: bool, right: bool) -> None:
    """Only the tanks that the selector opens lose fuel, and the total with them."""
    before = {side: number(running, f"fuel.tank.{side}") for side in ("left", "right")}
    running.set("fuel.selector", selector)
    running.run(120.0, 0.5)
    assert (number(running, "fuel.tank.left") < before["left"]) is left
    assert (number(running, "fuel.tank.right") < before["right"]) is right
    burnt = sum(before.values()) - number(running, "fuel.total")
    assert burnt == pytest.approx(number(running, "engine.1.fuel_flow") * 120.0 / 3600.0, rel=0.1)


@pytest.mark.parametrize("shut", [{"fuel.selector": "off"}, {"fuel.shutoff": "closed"}])
def test_shut_off_it_runs_on_for_a_while(running: Halyard12, shut: dict[str, str]) -> None:
    """The fuel in the line lasts some seconds, at full throttle less than a minute; then the engine stops."""
    put(running, {**shut, "engine.1.throttle": 100.0})
    running.run(5.0)
    assert running.get("engine.1.running") == "yes"
    running.run(55.0)
    assert running.get("engine.1.running") == "no"
    assert number(running, "fuel.pressure") < 0.1


def test_an_empty_tank_lights_its_light_and_stops_the_engine(running: Halyard12) -> None:
    """Low fuel lights the tank's light; an empty selected tank stops the engine though the other is full."""
    put(running, {"fuel.tank.left": 5.0, "fuel.selector": "left"}).run(1.0)
    assert (running.get("alert.fuel.left"), running.get("alert.fuel.right")) == ("on", "off")
    put(running, {"fuel.tank.left": 0.0, "engine.1.throttle": 100.0}).run(60.0)
    assert running.get("engine.1.running") == "no"
