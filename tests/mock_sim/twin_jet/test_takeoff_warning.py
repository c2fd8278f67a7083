"""Tests of the take-off configuration warning: silent when all is right, on for each item of CS 25.703 alone."""

from __future__ import annotations

import pytest

from mock_sim.twin_jet import Halyard220
from rules.signals.model import Value
from tests.mock_sim.twin_jet.twin_jet_steps import number, put

READY: dict[str, Value] = {
    "controls.flap.lever": 8.0,
    "controls.stabiliser_trim": 5.2,
    "gear.parking_brake": "released",
}


@pytest.fixture
def ready(running: Halyard220) -> Halyard220:
    """Configured for take-off, held by the pedals and the chocks."""
    put(running, {**READY, "gear.brake_pedal.left": 100.0, "gear.brake_pedal.right": 100.0})
    running.run(15.0)
    return running


def _advance(aeroplane: Halyard220) -> tuple[Value, Value]:
    """Set take-off thrust, and give the configuration warning and the master warning."""
    put(aeroplane, {"engine.1.thrust_lever": 89.0, "engine.2.thrust_lever": 89.0})
    aeroplane.run(0.5)
    return aeroplane.get("alert.takeoff_configuration"), aeroplane.get("alert.master_warning")


def test_a_right_configuration_is_silent(ready: Halyard220) -> None:
    """With all items right take-off thrust brings no warning."""
    assert _advance(ready) == ("off", "off")


@pytest.mark.parametrize(
    ("item", "wrong"),
    [
        ("flaps", {"controls.flap.lever": 28.0}),
        ("flaps", {"controls.flap.lever": 0.0}),
        ("slats", {"controls.flap.lever": 0.0}),
        ("trim", {"controls.stabiliser_trim": 1.0}),
        ("trim", {"controls.stabiliser_trim": 9.0}),
        ("spoilers", {"controls.speedbrake.lever": "half"}),
        ("spoilers", {"controls.speedbrake.lever": "full"}),
        ("parking brake", {"gear.parking_brake": "set"}),
    ],
)
def test_each_item_warns_by_itself(ready: Halyard220, item: str, wrong: dict[str, Value]) -> None:
    """One wrong item is enough, and putting it right ends the warning (25.703(b))."""
    put(ready, wrong)
    ready.run(30.0)
    assert item in ready.alerts.takeoff.wrong_items()
    assert _advance(ready) == ("on", "on")
    put(ready, {**READY, "controls.speedbrake.lever": "stowed"})
    ready.run(30.0)
    assert ready.get("alert.takeoff_configuration") == "off"


def test_slats_in_transit_warn(ready: Halyard220) -> None:
    """Slats that have not arrived warn although the lever is right."""
    ready.controls._slat = 0.4
    ready.run(0.2)
    assert ready.alerts.takeoff.wrong_items() == ["slats"]
    assert _advance(ready)[0] == "on"


def test_the_takeoff_warning_needs_thrust(ready: Halyard220) -> None:
    """A wrong item at idle brings no warning, and retarding the levers ends it."""
    put(ready, {"gear.parking_brake": "set"})
    ready.run(1.0)
    assert ready.get("alert.takeoff_configuration") == "off"
    assert _advance(ready)[0] == "on"
    put(ready, {"engine.1.thrust_lever": 0.0, "engine.2.thrust_lever": 0.0})
    ready.run(8.0)
    assert ready.get("alert.takeoff_configuration") == "off"


def test_one_thrust_lever_arms_the_takeoff_warning(ready: Halyard220) -> None:
    """One engine at take-off thrust arms it."""
    put(ready, {"gear.parking_brake": "set", "engine.2.thrust_lever": 80.0})
    ready.run(0.5)
    assert ready.get("alert.takeoff_configuration") == "on"


def test_without_its_supply_it_is_silent(ready: Halyard220) -> None:
    """Without its supply the warning is silent, and the supply reads off."""
    assert ready.get("alert.takeoff_warning_power") == "powered"
    put(ready, {"fault.takeoff_warning": "unpowered", "gear.parking_brake": "set"})
    assert _advance(ready) == ("off", "off")
    assert ready.get("alert.takeoff_warning_power") == "off"


def test_closed_levers_end_it_while_the_fans_run_down(running: Halyard220) -> None:
    """In a rejected take-off the speedbrake lever may come up at once: closed levers are no take-off."""
    put(running, {"gear.chocks": "removed", "gear.parking_brake": "released", "controls.flap.lever": 8.0})
    put(running, {"engine.1.thrust_lever": 89.0, "engine.2.thrust_lever": 89.0})
    running.run(12.0)
    put(
        running,
        {"engine.1.thrust_lever": 0.0, "engine.2.thrust_lever": 0.0, "controls.speedbrake.lever": "full"},
    )
    running.run(0.3)
    assert number(running, "engine.1.n1") > 70.0
    assert running.get("alert.takeoff_configuration") == "off"
