"""Gear, brakes and steering: accumulator, parking brake, autobrake, tiller, pins and legs."""

from __future__ import annotations

from copy import deepcopy

import pytest

from mock_sim.twin_jet import Halyard220
from tests.mock_sim.twin_jet.twin_jet_steps import number, put


def _press(aeroplane: Halyard220, times: int) -> None:
    """Press both brake pedals fully some times."""
    for _ in range(times):
        for pressure in (100.0, 0.0):
            put(aeroplane, {"gear.brake_pedal.left": pressure, "gear.brake_pedal.right": pressure})
            aeroplane.run(0.5)


def test_the_accumulator_keeps_its_pressure(dark: Halyard220) -> None:
    """Without use the accumulator loses almost no pressure in ten minutes."""
    before = number(dark, "gear.brake_accumulator")
    dark.run(600.0, 0.5)
    assert before - 20.0 < number(dark, "gear.brake_accumulator") <= before


def test_each_press_of_the_brakes_lowers_the_accumulator(dark: Halyard220) -> None:
    """Without system 2 every use of the brakes lowers the pressure, down to the gas charge and no further."""
    before = number(dark, "gear.brake_accumulator")
    _press(dark, 1)
    once = number(dark, "gear.brake_accumulator")
    assert once < before - 200.0
    _press(dark, 2)
    assert number(dark, "gear.brake_accumulator") < once - 400.0
    _press(dark, 10)
    assert number(dark, "gear.brake_accumulator") == 1000.0


def test_system_2_charges_it_and_system_1_does_not(powered: Halyard220) -> None:
    """Only system 2 charges the accumulator to system pressure."""
    before = number(powered, "gear.brake_accumulator")
    powered.set("hydraulics.1.pump.electric.switch", "on")
    powered.run(20.0)
    assert number(powered, "gear.brake_accumulator") <= before
    powered.set("hydraulics.2.pump.electric.switch", "on")
    powered.run(25.0)
    charged = number(powered, "gear.brake_accumulator")
    assert charged == pytest.approx(3000.0, abs=20.0)
    _press(powered, 5)
    assert number(powered, "gear.brake_accumulator") == pytest.approx(charged, abs=20.0)
    powered.set("hydraulics.2.pump.electric.switch", "off")
    powered.run(400.0, 0.5)
    assert number(powered, "hydraulics.2.pressure") < 100.0
    assert number(powered, "gear.brake_accumulator") > 2950.0


def test_a_parking_brake_without_pressure_does_not_hold(running: Halyard220) -> None:
    """Without pressure in accumulator and system 2 the set parking brake does not hold."""
    put(running, {"gear.chocks": "removed", "engine.1.thrust_lever": 35.0, "engine.2.thrust_lever": 35.0})
    running.run(10.0)
    assert number(running, "flight.ground_speed") == 0.0
    put(running, {f"hydraulics.2.pump.{kind}.switch": "off" for kind in ("engine", "electric")})
    running.run(120.0, 0.5)
    _press(running, 12)
    running.run(10.0)
    assert running.get("gear.parking_brake") == "set"
    assert number(running, "flight.ground_speed") > 1.0


def test_steering_needs_system_1_and_no_pin(pressed: Halyard220) -> None:
    """The tiller moves the nose wheel only with pressure and the bypass pin out."""
    assert pressed.get("gear.nose_steering") == "on"
    pressed.set("gear.tiller", 40.0)
    pressed.run(3.0)
    assert number(pressed, "gear.tiller") == pytest.approx(40.0, abs=0.5)
    pressed.set("gear.bypass_pin", "inserted")
    pressed.run(30.0)
    assert pressed.get("gear.nose_steering") == "off"
    assert abs(number(pressed, "gear.tiller")) < 1.0


def test_autobrake_lights_its_disarm_light_until_it_can_work(powered: Halyard220) -> None:
    """Without pressure or antiskid the disarm light is on; with both it goes out."""
    powered.set("gear.autobrake", "reject")
    powered.run(1.0)
    assert powered.get("controls.autobrake_disarm") == "yes"
    powered.set("hydraulics.2.pump.electric.switch", "on")
    powered.run(5.0)
    assert powered.get("controls.autobrake_disarm") == "no"
    powered.set("gear.antiskid", "off")
    powered.run(0.5)
    assert powered.get("controls.autobrake_disarm") == "yes"


def test_a_rejected_take_off_brakes_by_itself(running: Halyard220) -> None:
    """With the autobrake at reject, closing the levers above 80 kt stops the aeroplane, and the armed spoilers deploy."""
    put(running, {"gear.chocks": "removed", "gear.parking_brake": "released", "gear.autobrake": "reject"})
    put(running, {"controls.speedbrake.lever": "armed", "controls.flap.lever": 8.0})
    put(running, {"engine.1.thrust_lever": 90.0, "engine.2.thrust_lever": 90.0})
    running.run(22.0)
    assert number(running, "flight.ground_speed") > 80.0
    put(running, {"engine.1.thrust_lever": 0.0, "engine.2.thrust_lever": 0.0})
    cold = number(running, "gear.brake_temperature")
    running.run(40.0)
    assert running.get("controls.speedbrake.lever") == "full"
    assert number(running, "controls.spoiler.left") == 100.0
    assert number(running, "flight.ground_speed") == 0.0
    assert number(running, "gear.brake_temperature") > cold + 50.0


def test_a_pilots_own_pedals_take_over_from_a_landing_autobrake(running: Halyard220) -> None:
    """Pedals that are pressed firmly and released end the autobrake for this landing, without a light; reject stays on."""
    braked = {}
    for selected in ("high", "reject"):
        aeroplane = deepcopy(running)
        put(
            aeroplane,
            {"gear.chocks": "removed", "gear.parking_brake": "released", "gear.autobrake": selected},
        )
        put(aeroplane, {"engine.1.thrust_lever": 90.0, "engine.2.thrust_lever": 90.0})
        aeroplane.run(22.0)
        put(aeroplane, {"engine.1.thrust_lever": 0.0, "engine.2.thrust_lever": 0.0})
        aeroplane.run(2.0)
        assert aeroplane.gear.braking > 0.7
        put(aeroplane, {"gear.brake_pedal.left": 40.0, "gear.brake_pedal.right": 40.0})
        aeroplane.run(0.5)
        put(aeroplane, {"gear.brake_pedal.left": 0.0, "gear.brake_pedal.right": 0.0})
        aeroplane.run(0.5)
        assert aeroplane.get("controls.autobrake_disarm") == "no"
        braked[selected] = aeroplane.gear.braking
    assert braked["high"] == 0.0
    assert braked["reject"] > 0.9


def test_no_autobrake_below_80_kt(running: Halyard220) -> None:
    """The autobrake does not brake when the levers are closed below 80 kt."""
    put(running, {"gear.chocks": "removed", "gear.parking_brake": "released", "gear.autobrake": "reject"})
    put(running, {"engine.1.thrust_lever": 60.0, "engine.2.thrust_lever": 60.0})
    running.run(16.0)
    put(running, {"engine.1.thrust_lever": 0.0, "engine.2.thrust_lever": 0.0})
    assert 20.0 < number(running, "flight.ground_speed") < 70.0
    running.run(5.0)
    assert running.gear.braking == 0.0


def test_the_gear_lever_is_locked_on_the_ground(pressed: Halyard220) -> None:
    """The lever goes back down by itself and the legs stay locked."""
    pressed.set("gear.lever", "up")
    pressed.run(2.0)
    assert pressed.get("gear.lever") == "down"
    assert {pressed.get(f"gear.{leg}.locked") for leg in ("nose", "left", "right")} == {"down"}
    assert pressed.get("gear.disagree") == "off"
