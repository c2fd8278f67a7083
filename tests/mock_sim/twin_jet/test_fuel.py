"""Fuel: pumps and their delayed lights, valves, which tank is burnt, balance and density."""

from __future__ import annotations

import pytest

from mock_sim.twin_jet import Halyard220
from mock_sim.twin_jet.fuel import PUMPS
from tests.mock_sim.twin_jet.twin_jet_steps import FUEL, number, put

WING_PUMPS = [pump for pump, (tank, _) in PUMPS.items() if tank != "centre"]


@pytest.mark.parametrize("pump", WING_PUMPS)
def test_the_light_goes_out_some_time_after_the_pump_is_on(powered: Halyard220, pump: str) -> None:
    """A wing pump's light is on while the pump is off, stays on for a moment after switching on, then goes out."""
    light = f"fuel.pump.{pump}.low_pressure"
    assert powered.get(light) == "on"
    powered.set(f"fuel.pump.{pump}.switch", "on")
    powered.run(0.3)
    assert powered.get(light) == "on"
    powered.run(3.0)
    assert powered.get(light) == "off"
    powered.set(f"fuel.pump.{pump}.switch", "off")
    powered.run(3.0)
    assert powered.get(light) == "on"


def test_lights_need_power(dark: Halyard220) -> None:
    """Without power no light is on."""
    dark.run(2.0)
    assert {dark.get(f"fuel.pump.{pump}.low_pressure") for pump in PUMPS} == {"off"}


def test_a_centre_pump_without_fuel_lights_up(powered: Halyard220) -> None:
    """A centre pump's light is dark while off, dark while it delivers, and on when its tank is empty."""
    light = "fuel.pump.centre_left.low_pressure"
    assert powered.get(light) == "off"
    powered.set("fuel.pump.centre_left.switch", "on")
    powered.run(4.0)
    assert powered.get(light) == "off"
    powered.set("fuel.tank.centre", 0.0)
    powered.run(4.0)
    assert powered.get(light) == "on"


def test_a_failed_pump_keeps_its_light(powered: Halyard220) -> None:
    """A pump that has failed has no pressure though it is on."""
    put(powered, {**FUEL, "fault.fuel_pump": "right_aft"})
    powered.run(5.0)
    assert powered.get("fuel.pump.right_aft.low_pressure") == "on"
    assert powered.get("fuel.pump.right_forward.low_pressure") == "off"


def test_the_centre_tank_is_burnt_first(running: Halyard220) -> None:
    """With its pumps on the centre tank empties while the wing tanks stay."""
    put(
        running,
        {"fuel.pump.centre_left.switch": "on", "fuel.pump.centre_right.switch": "on", "apu.switch": "off"},
    )
    running.run(150.0, 0.25)
    before = {tank: number(running, f"fuel.tank.{tank}") for tank in ("left", "centre", "right")}
    running.run(120.0, 0.25)
    assert number(running, "fuel.tank.centre") == pytest.approx(before["centre"] - 2 * 300.0 / 30.0, abs=1.0)
    assert number(running, "fuel.tank.left") == before["left"]
    assert number(running, "fuel.tank.right") == before["right"]


def test_burnt_fuel_leaves_the_tanks(running: Halyard220) -> None:
    """The total falls by the fuel that both engines report as used."""
    total, used = (
        number(running, "fuel.total"),
        number(running, "fuel.used.1") + number(running, "fuel.used.2"),
    )
    running.run(200.0, 0.25)
    total_after = number(running, "fuel.total")
    used_after = number(running, "fuel.used.1") + number(running, "fuel.used.2")
    apu_kg = 110.0 / 3600.0 * 75.0
    assert total - total_after == pytest.approx(used_after - used, abs=apu_kg)
    assert used_after > used + 25.0


def test_crossfeed_unbalances_the_tanks(running: Halyard220) -> None:
    """With crossfeed open and the left pumps off, both engines burn from the right tank."""
    put(
        running,
        {
            "fuel.crossfeed": "open",
            "fuel.pump.left_aft.switch": "off",
            "fuel.pump.left_forward.switch": "off",
        },
    )
    running.run(100.0, 0.25)
    left, right = number(running, "fuel.tank.left"), number(running, "fuel.tank.right")
    running.run(300.0, 0.25)
    assert number(running, "fuel.tank.left") == left
    assert right - number(running, "fuel.tank.right") == pytest.approx(50.0, abs=2.0)


def test_an_engine_sucks_fuel_without_pumps(running: Halyard220) -> None:
    """On the ground an engine keeps running with all pumps off, and burns from its own tank."""
    put(running, dict.fromkeys(FUEL, "off"))
    running.run(30.0)
    assert running.get("engine.1.running") == "yes"


def test_an_empty_tank_stops_the_engine(running: Halyard220) -> None:
    """An engine without fuel goes out."""
    running.set("fuel.tank.left", 0.0)
    running.run(10.0)
    assert running.get("engine.1.running") == "no"
    assert running.get("engine.2.running") == "yes"


def test_the_spar_valve_follows_lever_and_fire_handle(powered: Halyard220) -> None:
    """The valve opens with the fuel lever within a second and shuts with the fire handle."""
    powered.set("engine.2.fuel_lever", "open")
    powered.run(0.3)
    assert powered.get("fuel.valve.engine.2") == "closed"
    powered.run(1.0)
    assert powered.get("fuel.valve.engine.2") == "open"
    powered.set("fire.engine.2.handle", "pulled")
    powered.run(1.0)
    assert powered.get("fuel.valve.engine.2") == "closed"


def test_refuelling_changes_the_total(dark: Halyard220) -> None:
    """Fuel put into a tank is in the total with the next step."""
    assert number(dark, "fuel.total") == 8200.0
    dark.set("fuel.tank.left", 2000.0)
    dark.run(0.1)
    assert number(dark, "fuel.total") == pytest.approx(7100.0)


def test_cold_fuel_is_denser(dark: Halyard220) -> None:
    """Density rises as the fuel cools, and stays that of kerosene."""
    dark.set("flight.outside_air_temperature", -30.0)
    dark.run(10.0)
    warm = number(dark, "fuel.density")
    dark.run(300.0, 0.5)
    assert warm < number(dark, "fuel.density") < 0.86


def test_a_clogged_filter_lights_while_fuel_flows(running: Halyard220) -> None:
    """The bypass light of a clogged filter is on for the engine that is fed, and only for it."""
    running.set("fault.fuel_filter.2", "clogged")
    running.run(0.5)
    assert running.get("fuel.filter_bypass.2") == "on"
    assert running.get("fuel.filter_bypass.1") == "off"
    running.set("engine.2.fuel_lever", "closed")
    running.run(2.0)
    assert running.get("fuel.filter_bypass.2") == "off"
