"""Tests of ground motion in the library: tug, brakes, steering, roll; and the mapping of our flaps to its flaps."""

from __future__ import annotations

import pytest

from mock_sim.jsbsim.embedded import JsbsimHalyard220
from mock_sim.jsbsim.embedded.motion import FLAPS_DEG, model_flaps_deg
from tests.mock_sim.twin_jet.twin_jet_steps import number, put


def test_flaps_go_from_point_to_point() -> None:
    """The mapping is exact at each point, linear between two, and constant beyond the last."""
    assert [model_flaps_deg(ours) for ours, _ in FLAPS_DEG] == [theirs for _, theirs in FLAPS_DEG]
    assert model_flaps_deg(6.0) == pytest.approx(5.5)
    assert model_flaps_deg(41.0) == FLAPS_DEG[-1][1]


@pytest.mark.real
def test_the_tug_pushes_and_turns(parked: JsbsimHalyard220) -> None:
    """A tug pushes the aeroplane back at its speed and turns the tail, until the parking brake holds."""
    put(parked, {"gear.chocks": "removed", "gear.parking_brake": "released", "gear.tug": "attached"})
    put(parked, {"tug.speed": -3.0, "tug.turn": -40.0})
    parked.run(20.0)
    assert number(parked, "flight.ground_speed") == pytest.approx(2.8, abs=0.3)
    assert 260.0 < number(parked, "flight.heading") < 330.0
    put(parked, {"tug.speed": 0.0, "gear.parking_brake": "set"})
    parked.run(8.0)
    assert number(parked, "flight.ground_speed") < 0.01


@pytest.mark.real
def test_brakes_hold_and_let_go(running: JsbsimHalyard220) -> None:
    """With 44 % N1 the parking brake holds; released it rolls; the pedals stop it."""
    put(running, {f"engine.{k}.thrust_lever": 28.0 for k in "12"})
    running.run(10.0)
    assert number(running, "flight.ground_speed") < 0.01
    running.set("gear.parking_brake", "released")
    running.run(20.0)
    assert number(running, "flight.ground_speed") > 4.0
    put(running, {f"engine.{k}.thrust_lever": 0.0 for k in "12"})
    put(running, {f"gear.brake_pedal.{side}": 40.0 for side in ("left", "right")})
    running.run(8.0)
    assert number(running, "flight.ground_speed") < 0.05


@pytest.mark.real
@pytest.mark.parametrize(("tiller_deg", "sign"), [(40.0, 1.0), (-40.0, -1.0)])
def test_the_tiller_turns_to_its_side(running: JsbsimHalyard220, tiller_deg: float, sign: float) -> None:
    """Tiller right turns right, tiller left turns left."""
    put(running, {"gear.parking_brake": "released"} | {f"engine.{k}.thrust_lever": 28.0 for k in "12"})
    running.run(15.0)
    before = number(running, "flight.heading")
    running.set("gear.tiller", tiller_deg)
    running.run(5.0)
    turned = (number(running, "flight.heading") - before + 180.0) % 360.0 - 180.0
    assert sign * turned > 10.0


@pytest.mark.real
def test_it_rolls_lifts_off_and_climbs(running: JsbsimHalyard220) -> None:
    """With take-off thrust the aeroplane gains at least 4 kt a second, lifts off when the nose is raised, and climbs."""
    put(running, {"controls.flap.lever": 8.0, "gear.parking_brake": "released"})
    put(running, {f"engine.{k}.thrust_lever": 89.1 for k in "12"})
    running.run(15.0)
    before = number(running, "flight.ground_speed")
    running.run(3.0)
    assert number(running, "flight.ground_speed") - before > 12.5
    while number(running, "flight.airspeed") < 135.0:
        running.step(0.1)
    running.set("controls.column", 50.0)
    running.run(6.0)
    running.set("controls.column", 0.0)
    running.run(6.0)
    assert running.get("flight.on_ground") == "no"
    assert number(running, "flight.vertical_speed") > 500.0
    assert abs(number(running, "flight.bank")) < 5.0
