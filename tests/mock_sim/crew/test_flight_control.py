"""Tests of flying by hand, with an aeroplane whose signals the test sets."""

from __future__ import annotations

import pytest

from mock_sim.crew.flight_control import FlightControl
from mock_sim.scenario import Scenario
from mock_sim.scenario.model import Fly
from rules.signals.model import Value

EMPTY = Scenario(name="s", title="S", world={}, trip={"line": 10.0}, seats={}, ends=(), longest_s=60)
LEVEL: dict[str, Value] = {
    "flight.on_ground": "no",
    "flight.pitch": 0.0,
    "flight.bank": 0.0,
    "flight.track": 0.0,
    "flight.height": 1000.0,
    "flight.ground_speed": 140.0,
    "flight.vertical_speed": -743.0,
    "radio_altitude": 1000.0,
    "navigation.localizer": 0.0,
    "navigation.glide_path": 0.0,
    "controls.column": 0.0,
    "controls.wheel": 0.0,
}


class Cockpit(dict[str, Value]):
    """A dictionary that can be flown."""

    def set(self, name: str, value: Value) -> None:
        """Put a control somewhere."""
        self[name] = value

    def get(self, name: str) -> Value:  # type: ignore[override]
        """Read a signal."""
        return self[name]


def fly(wanted: Fly, **now: Value) -> tuple[float, float]:
    """Return column and wheel after one tick in level flight with the given differences."""
    named = {
        f"flight.{name}" if f"flight.{name}" in LEVEL else name.replace("__", "."): to
        for name, to in now.items()
    }
    cockpit = Cockpit(LEVEL | named)
    FlightControl(cockpit).tick(wanted, EMPTY)
    return float(cockpit["controls.column"]), float(cockpit["controls.wheel"])


PATH = Fly(path=True, heading_deg=0.0)


def test_a_pitch_is_pulled_for_and_pushed_for() -> None:
    """Below the pitch the column moves back, above it forward, within the limits of the hands."""
    assert fly(Fly(pitch_deg=2.0))[0] == pytest.approx(35.2)
    assert fly(Fly(pitch_deg=-20.0 / 10))[0] == pytest.approx(-35.2)
    assert fly(Fly(pitch_deg=15.0))[0] == 55.0


@pytest.mark.parametrize(("track", "wheel"), [(350.0, 45.0), (30.0, -45.0), (10.0, 0.0)])
def test_a_heading_of_the_trip_is_turned_to_the_short_way(track: float, wheel: float) -> None:
    """Left of the heading the wheel turns right; on the heading it is centred."""
    assert fly(Fly(heading_deg="trip.line"), track=track)[1] == pytest.approx(wheel)


def test_the_path_is_flown_out() -> None:
    """Below the path the column moves back, above it forward; right of the line the wheel turns left."""
    assert fly(PATH, navigation__glide_path=-1.0)[0] > 5.0
    assert fly(PATH, navigation__glide_path=1.0)[0] < -5.0
    assert fly(PATH)[0] == pytest.approx(0.0, abs=1.0)
    assert fly(PATH, navigation__localizer=1.0)[1] < 0.0


def test_the_flare_breaks_the_descent() -> None:
    """Near the ground the column moves back for a descent of 700 ft/min, and not for a slow one."""
    assert fly(PATH, radio_altitude=20.0)[0] > 20.0
    assert fly(PATH, radio_altitude=5.0, vertical_speed=-150.0)[0] == pytest.approx(0.0, abs=0.5)


def test_after_touchdown_the_nose_comes_down_and_wings_stay_level() -> None:
    """On the ground the column moves forward while the nose is up, and the wheel is centred."""
    assert fly(PATH, on_ground="yes", pitch=5.0, bank=2.0) == pytest.approx((-38.5, 0.0))


def test_hands_off_lets_go_once() -> None:
    """After hand flying, an empty `fly` centres both controls once; then the crew does not move them."""
    cockpit = Cockpit(LEVEL)
    hands = FlightControl(cockpit)
    hands.tick(Fly(pitch_deg=10.0), EMPTY)
    hands.tick(Fly(), EMPTY)
    assert (cockpit["controls.column"], cockpit["controls.wheel"]) == (0.0, 0.0)
    cockpit["controls.column"] = 7.0
    hands.tick(Fly(), EMPTY)
    assert cockpit["controls.column"] == 7.0
