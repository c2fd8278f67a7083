"""Hydraulics: pressure builds within seconds, decays slowly, and each pump needs what drives it."""

from __future__ import annotations

import pytest

from mock_sim.twin_jet import Halyard220
from tests.mock_sim.twin_jet.twin_jet_steps import number, put


@pytest.mark.parametrize("k", ["1", "2"])
def test_an_electric_pump_builds_pressure_over_seconds(powered: Halyard220, k: str) -> None:
    """Pressure builds up over seconds and settles at the nominal 3 000 psi."""
    name = f"hydraulics.{k}.pressure"
    powered.set(f"hydraulics.{k}.pump.electric.switch", "on")
    powered.run(0.5)
    assert 0.0 < number(powered, name) < 1000.0
    seen = []
    for _ in range(20):
        powered.run(1.0)
        seen.append(number(powered, name))
    assert seen == sorted(seen)
    assert 1000.0 < seen[1] < 2800.0
    assert seen[-1] == pytest.approx(3000.0, abs=5.0)
    assert number(powered, f"hydraulics.{'12'.replace(k, '')}.pressure") == 0.0


def test_pressure_decays_slowly(pressed: Halyard220) -> None:
    """With the pump off most of the pressure is still there after some seconds and gone after minutes."""
    pressed.set("hydraulics.1.pump.electric.switch", "off")
    pressed.run(10.0)
    assert 2000.0 < number(pressed, "hydraulics.1.pressure") < 2900.0
    pressed.run(600.0, 0.5)
    assert number(pressed, "hydraulics.1.pressure") == 0.0


def test_the_electric_pump_needs_ac_power(dark: Halyard220) -> None:
    """On the battery alone an electric pump gives nothing."""
    put(dark, {"electrical.battery.switch": "on", "hydraulics.1.pump.electric.switch": "on"})
    dark.run(10.0)
    assert number(dark, "hydraulics.1.pressure") == 0.0


def test_each_electric_pump_hangs_on_the_other_sides_bus(running: Halyard220) -> None:
    """With one bus lost the system of its side keeps its electric pump, and the other system loses it."""
    put(running, {"electrical.bus.tie": "open", "fault.generator.1": "trip"})
    running.run(5.0)
    assert running.get("hydraulics.1.pump.electric.low_pressure") == "off"
    assert running.get("hydraulics.2.pump.electric.low_pressure") == "on"


def test_the_engine_pump_needs_a_turning_engine(pressed: Halyard220) -> None:
    """The engine-driven pump gives no pressure while its engine is stopped, and its light is on."""
    put(pressed, {"hydraulics.1.pump.engine.switch": "on", "hydraulics.1.pump.electric.switch": "off"})
    pressed.run(300.0, 0.5)
    assert number(pressed, "hydraulics.1.pressure") < 30.0
    assert pressed.get("hydraulics.1.pump.engine.low_pressure") == "on"


def test_a_running_engine_holds_the_pressure_alone(running: Halyard220) -> None:
    """With its electric pump off a running engine keeps its system at pressure, and the light out."""
    running.set("hydraulics.2.pump.electric.switch", "off")
    running.run(60.0)
    assert number(running, "hydraulics.2.pressure") == pytest.approx(3000.0, abs=10.0)
    assert running.get("hydraulics.2.pump.engine.low_pressure") == "off"
    assert running.get("hydraulics.2.pump.electric.low_pressure") == "on"


def test_the_light_is_delayed_and_needs_power(powered: Halyard220) -> None:
    """A pump's light goes out only after its output has risen; without power it is dark."""
    light = "hydraulics.1.pump.electric.low_pressure"
    assert powered.get(light) == "on"
    powered.set("hydraulics.1.pump.electric.switch", "on")
    powered.run(0.2)
    assert powered.get(light) == "on"
    powered.run(3.0)
    assert powered.get(light) == "off"
    put(powered, {"electrical.external.switch": "off", "electrical.battery.switch": "off"})
    powered.run(5.0)
    assert powered.get(light) == "off"


def test_a_leak_empties_the_system(pressed: Halyard220) -> None:
    """A system that loses its fluid loses its pressure, though its pump is on."""
    full = number(pressed, "hydraulics.1.quantity")
    pressed.set("fault.hydraulic.1", "leak")
    pressed.run(20.0)
    assert number(pressed, "hydraulics.1.quantity") < full - 20.0
    pressed.run(300.0, 0.5)
    assert number(pressed, "hydraulics.1.pressure") < 50.0


def test_flaps_dip_the_pressure_of_an_electric_pump(pressed: Halyard220) -> None:
    """Moving the flaps on the electric pump alone pulls the pressure of system 2 down for a while."""
    pressed.set("controls.flap.lever", 20.0)
    pressed.run(4.0)
    assert number(pressed, "hydraulics.2.pressure") < 2950.0
    pressed.run(30.0)
    assert number(pressed, "hydraulics.2.pressure") > 2980.0
