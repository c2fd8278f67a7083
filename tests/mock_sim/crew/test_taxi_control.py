"""Tests of taxiing, with an aeroplane whose signals the test sets."""

from __future__ import annotations

import pytest

from mock_sim.crew.taxi_control import TaxiControl
from mock_sim.scenario import Scenario
from mock_sim.scenario.model import Drive
from rules.signals.model import Value

EMPTY = Scenario(name="s", title="S", world={}, trip={"line": 10.0}, seats={}, ends=(), longest_s=60)
AT_REST: dict[str, Value] = {
    "flight.on_ground": "yes",
    "flight.ground_speed": 0.0,
    "flight.heading": 0.0,
    "engine.1.thrust_lever": 0.0,
    "engine.2.thrust_lever": 0.0,
    "gear.brake_pedal.left": 0.0,
    "gear.brake_pedal.right": 0.0,
    "gear.tiller": 0.0,
}


class Cockpit(dict[str, Value]):
    """A dictionary that can be driven."""

    def set(self, name: str, value: Value) -> None:
        """Put a control somewhere."""
        self[name] = value

    def get(self, name: str) -> Value:  # type: ignore[override]
        """Read a signal."""
        return self[name]


def drive(wanted: Drive, seconds: float = 5.0, **now: float) -> Cockpit:
    """Return the controls after driving for a while at a constant speed and heading."""
    cockpit = Cockpit(AT_REST | {f"flight.{name}": value for name, value in now.items()})
    driver = TaxiControl(cockpit)
    for _ in range(int(seconds * 10)):
        driver.tick(wanted, EMPTY, 0.1)
    return cockpit


def test_too_slow_takes_thrust_and_no_brakes() -> None:
    """Both levers go up evenly, no faster than a hand."""
    after = drive(Drive(speed_kt=15), 2.0)
    assert after["engine.1.thrust_lever"] == after["engine.2.thrust_lever"] == pytest.approx(12.0)
    assert after["gear.brake_pedal.left"] == 0.0


def test_too_fast_takes_idle_and_brakes() -> None:
    """Well above the set speed the levers are at idle and both pedals are pressed."""
    after = drive(Drive(speed_kt=8), ground_speed=14.0)
    assert after["engine.1.thrust_lever"] == 0.0
    assert after["gear.brake_pedal.left"] == after["gear.brake_pedal.right"] == 24.0


def test_speed_zero_brakes_to_a_stop_and_holds() -> None:
    """Standing still with speed 0 wanted, the pedals stay pressed."""
    assert drive(Drive(speed_kt=0))["gear.brake_pedal.left"] == 25.0


@pytest.mark.parametrize(
    ("heading", "wanted", "tiller"), [(350, 10, 40), (10, 350, -40), (0, 180, -55), (200, "trip.line", 55)]
)
def test_it_steers_the_short_way_round(heading: float, wanted: float | str, tiller: float) -> None:
    """The tiller goes right for a heading clockwise from the nose, and no further than its stop."""
    after = drive(Drive.model_validate({"heading_deg": wanted}), heading=heading)
    assert after["gear.tiller"] == tiller


def test_without_a_speed_levers_and_pedals_do_not_move() -> None:
    """Without a speed neither levers nor pedals move."""
    after = drive(Drive(heading_deg=5))
    assert after["engine.1.thrust_lever"] == after["gear.brake_pedal.left"] == 0.0
