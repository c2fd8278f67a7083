"""Pressurisation: open on the ground, a slow cabin in the air, a warning when it is left open."""

from __future__ import annotations

import pytest

from mock_sim.twin_jet import Halyard220
from tests.mock_sim.twin_jet.twin_jet_steps import lift, number, put


def _lift(aeroplane: Halyard220, height_ft: float) -> None:
    """Put the aeroplane into level flight at a height, without flying there."""
    lift(aeroplane, height_ft, 180.0)
    put(aeroplane, {"engine.1.thrust_lever": 60.0, "engine.2.thrust_lever": 60.0})
    put(
        aeroplane,
        {"gear.lever": "up", "autoflight.flight_director.left": "on", "autoflight.altitude": height_ft},
    )
    aeroplane.run(0.2)
    put(aeroplane, {"autoflight.pilot.1": "on", "autoflight.vertical_mode": "altitude"})


def test_on_the_ground_the_cabin_is_open(powered: Halyard220) -> None:
    """The outflow valve is open and there is no differential, whatever the packs do."""
    put(powered, {"bleed.ground_air": "connected", "air.pack.right.switch": "normal"})
    powered.run(30.0)
    assert number(powered, "cabin.outflow_valve") == 100.0
    assert abs(number(powered, "cabin.differential")) < 0.05


def test_a_pack_warms_the_cabin(powered: Halyard220) -> None:
    """With a pack the cabin warms towards 22 degrees."""
    before = number(powered, "cabin.temperature")
    put(powered, {"bleed.ground_air": "connected", "air.pack.right.switch": "normal"})
    powered.run(240.0, 0.5)
    assert before + 2.0 < number(powered, "cabin.temperature") < 22.0


def test_in_the_air_the_cabin_climbs_slowly(running: Halyard220) -> None:
    """With packs the cabin climbs at its own rate and differential builds."""
    put(running, {"air.pack.left.switch": "normal", "air.pack.right.switch": "normal"})
    _lift(running, 15000.0)
    running.run(60.0, 0.5)
    assert 0.0 < number(running, "cabin.rate") <= 520.0
    assert number(running, "cabin.altitude") < 1500.0
    assert number(running, "cabin.differential") > 3.0
    assert running.get("alert.cabin_altitude") == "off"


def test_without_packs_the_cabin_follows_the_outside(running: Halyard220) -> None:
    """Without packs the cabin has the altitude of the aeroplane, and the warning comes on above 10 000 ft."""
    _lift(running, 15000.0)
    running.run(420.0, 0.5)
    assert number(running, "cabin.altitude") > 10000.0
    assert running.get("alert.cabin_altitude") == "on"
    assert running.get("alert.master_warning") == "on"


def test_manual_moves_the_valve_by_hand(powered: Halyard220) -> None:
    """In manual mode the valve moves to the set position, at its own rate."""
    put(powered, {"cabin.mode": "manual", "cabin.outflow_valve": 40.0})
    powered.run(2.0)
    assert 40.0 < number(powered, "cabin.outflow_valve") < 90.0
    powered.run(10.0)
    assert number(powered, "cabin.outflow_valve") == pytest.approx(40.0)
