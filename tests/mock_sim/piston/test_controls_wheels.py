"""Tests of surfaces, lock, trims, flaps; brakes, nose wheel, ropes and chocks."""

from __future__ import annotations

import pytest

from mock_sim.common.panel import ControlError
from mock_sim.piston import Halyard12
from rules.signals.model import Value
from tests.mock_sim.piston.piston_steps import FREE, number, put


@pytest.mark.parametrize(
    ("control", "surface"), [("column", "elevator"), ("wheel", "aileron"), ("pedals", "rudder")]
)
def test_surfaces_follow_the_hands(parked: Halyard12, control: str, surface: str) -> None:
    """Unlocked, each surface goes through its full travel both ways."""
    parked.set("controls.lock", "off")
    for end in (100.0, -100.0):
        put(parked, {f"controls.{control}": end}).run(1.0)
        assert number(parked, f"controls.{surface}") == pytest.approx(end, abs=1.0)


def test_the_lock_holds_the_yoke(parked: Halyard12) -> None:
    """With the lock pin in place, neither column nor wheel moves."""
    put(parked, {"controls.column": 100.0, "controls.wheel": 50.0}).run(1.0)
    assert (number(parked, "controls.column"), number(parked, "controls.aileron")) == (0.0, 0.0)


def test_flaps_need_power_and_time(parked: Halyard12) -> None:
    """Without power the flaps stay; with power 28 degrees take 6 to 10 s; the lever has no position between its steps."""
    put(parked, {"controls.flap.lever": 28.0}).run(10.0)
    assert number(parked, "controls.flap.position") == 0.0
    put(parked, {"electrical.battery.switch": "on"}).run(5.0)
    assert 10.0 < number(parked, "controls.flap.position") < 28.0
    parked.run(5.0)
    assert number(parked, "controls.flap.position") == 28.0
    with pytest.raises(ControlError, match="rests at"):
        parked.set("controls.flap.lever", 15.0)


def test_stuck_flaps_stay(parked: Halyard12) -> None:
    """A broken flap motor leaves the flaps where they are."""
    put(parked, {"electrical.battery.switch": "on", "fault.flaps": "stuck", "controls.flap.lever": 16.0}).run(
        10.0
    )
    assert number(parked, "controls.flap.position") == 0.0


def test_the_trim_wheel_takes_its_time(parked: Halyard12) -> None:
    """The elevator trim moves to the set position at its own rate."""
    put(parked, {"controls.elevator_trim": -40.0}).run(1.0)
    assert -5.0 < number(parked, "controls.elevator_trim") < 5.0
    parked.run(6.0)
    assert number(parked, "controls.elevator_trim") == -40.0


@pytest.mark.parametrize(
    "holder",
    [
        {"gear.parking_brake": "set"},
        {"gear.chocks": "on"},
        {"parking.tie_down.tail": "on"},
        {"gear.brake_pedal.left": 80.0, "gear.brake_pedal.right": 80.0},
    ],
)
def test_brake_chocks_rope_or_feet_hold_the_aeroplane(running: Halyard12, holder: dict[str, Value]) -> None:
    """Brake, chocks, a rope or pressed pedals hold the aeroplane at 1 200 rpm; without them it rolls."""
    put(running, {**FREE, **holder, "engine.1.throttle": 17.0}).run(10.0)
    assert number(running, "flight.ground_speed") == 0.0
    released: dict[str, Value] = {"gear.brake_pedal.left": 0.0, "gear.brake_pedal.right": 0.0}
    put(running, {**FREE, **released}).run(10.0)
    assert number(running, "flight.ground_speed") > 2.0


def test_pedals_steer(running: Halyard12) -> None:
    """Right pedal turns the nose wheel and the rolling aeroplane to the right."""
    put(running, {**FREE, "engine.1.throttle": 17.0}).run(8.0)
    before = number(running, "flight.heading")
    put(running, {"controls.pedals": 60.0}).run(2.0)
    assert number(running, "gear.tiller") == pytest.approx(19.2, abs=1.0)
    assert 5.0 < (number(running, "flight.heading") - before) % 360.0 < 170.0


def test_brake_pressure(parked: Halyard12) -> None:
    """The parking brake holds both brakes under pressure; released, the pedals give it."""
    parked.run(0.5)
    assert number(parked, "gear.brake_pressure.left") > 500.0
    put(parked, {"gear.parking_brake": "released"}).run(0.5)
    assert number(parked, "gear.brake_pressure.left") == 0.0
    put(parked, {"gear.brake_pedal.left": 50.0}).run(0.5)
    assert number(parked, "gear.brake_pressure.left") > 300.0
    assert number(parked, "gear.brake_pressure.right") == 0.0
