"""Bleed air: ducts fill from whatever feeds them, users pull them down, packs need pressure."""

from __future__ import annotations

import pytest

from mock_sim.twin_jet import Halyard220
from tests.mock_sim.twin_jet.twin_jet_steps import number, put, start


def test_apu_air_needs_an_available_apu(powered: Halyard220) -> None:
    """The APU bleed switch alone gives no air."""
    powered.set("bleed.apu.switch", "on")
    powered.run(5.0)
    assert number(powered, "bleed.duct.left") == 0.0


def test_the_cross_bleed_valve_joins_the_ducts(air: Halyard220) -> None:
    """APU air reaches the right duct only through the open cross-bleed valve."""
    assert number(air, "bleed.duct.right") > 35.0
    air.set("bleed.cross_bleed", "closed")
    air.run(10.0)
    assert number(air, "bleed.duct.left") > 35.0
    assert number(air, "bleed.duct.right") < 1.0


def test_automatic_cross_bleed_closes_with_packs_and_bleeds_on(air: Halyard220) -> None:
    """In auto the valve is open while a pack is off and closed with all packs and engine bleeds on."""
    put(air, {"air.pack.left.switch": "normal", "air.pack.right.switch": "normal"})
    air.run(10.0)
    assert number(air, "bleed.duct.left") > 25.0
    assert number(air, "bleed.duct.right") < 1.0
    assert air.get("air.pack.left.flow") == "yes"
    assert air.get("air.pack.right.flow") == "no"


def test_packs_and_starter_pull_the_pressure_down(air: Halyard220) -> None:
    """Each user lowers the pressure; two packs and a starter together starve the starter."""
    free = number(air, "bleed.duct.left")
    air.set("engine.1.start_switch", "start")
    air.run(4.0)
    with_starter = number(air, "bleed.duct.left")
    put(
        air,
        {"air.pack.left.switch": "normal", "air.pack.right.switch": "normal", "bleed.cross_bleed": "open"},
    )
    air.run(4.0)
    assert free > with_starter + 5.0 > number(air, "bleed.duct.left") + 15.0


def test_ground_air_feeds_the_right_duct(powered: Halyard220) -> None:
    """A ground air unit gives air without APU or engine."""
    put(powered, {"bleed.ground_air": "connected", "bleed.cross_bleed": "closed"})
    powered.run(5.0)
    assert number(powered, "bleed.duct.right") > 35.0
    assert number(powered, "bleed.duct.left") == 0.0


def test_a_running_engine_gives_air_until_its_bleed_is_shut_or_tripped(running: Halyard220) -> None:
    """Engine air follows switch, trip and fire handle."""
    running.set("bleed.cross_bleed", "closed")
    running.run(5.0)
    assert number(running, "bleed.duct.left") > 25.0
    running.set("bleed.engine.1.switch", "off")
    running.run(5.0)
    assert number(running, "bleed.duct.left") < 1.0
    running.set("fault.bleed.2", "trip")
    running.run(5.0)
    assert running.get("bleed.trip.2") == "on"
    assert number(running, "bleed.duct.right") < 1.0


@pytest.mark.parametrize("setting", ["normal", "boost"])
def test_a_pack_needs_power(air: Halyard220, setting: str) -> None:
    """A pack without electrical power gives no air."""
    air.set("air.pack.left.switch", setting)
    air.run(3.0)
    assert air.get("air.pack.left.flow") == "yes"
    air.set("electrical.generator.apu.switch", "off")
    air.run(1.0)
    assert air.get("air.pack.left.flow") == "no"


def test_packs_on_for_start_never_reach_the_fuel_speed(air: Halyard220) -> None:
    """With both packs drawing APU air, N2 stays below the speed at which fuel may come."""
    put(
        air,
        {"air.pack.left.switch": "normal", "air.pack.right.switch": "normal", "bleed.cross_bleed": "open"},
    )
    start(air, "1", seconds=60.0)
    assert 10.0 < number(air, "engine.1.n2") < 25.0
