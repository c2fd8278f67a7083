"""Taxiing: thrust levers, brakes and tiller for a speed and a heading.

Takes: the wanted motion, and the signals of the aeroplane.  Gives: levers, pedals and tiller moved a little each time.
"""

from __future__ import annotations

from mock_sim.crew.seat import Cockpit
from mock_sim.scenario.model import Drive, Scenario

MAX_LEVER = 28.0
MAX_TILLER_DEG = 55.0
PEDALS_KT = 40.0


class TaxiControl:
    """Drives by small corrections; gains by trial with the mock aeroplane."""

    def __init__(self, cockpit: Cockpit) -> None:
        self._cockpit = cockpit
        self._by_pedals = False

    def tick(self, drive: Drive, scenario: Scenario, dt_s: float) -> None:
        """Correct speed and heading.

        Args:
            drive: the wanted motion; without a speed only the heading is controlled.
            scenario: for headings of the trip.
            dt_s: simulated seconds since the last correction.
        """
        if self._cockpit.get("flight.on_ground") == "no":
            return
        if drive.speed_kt is not None:
            self._speed(drive.speed_kt, dt_s)
        if drive.heading_deg is not None:
            self._steer(float(scenario.value(drive.heading_deg)))

    def _speed(self, wanted_kt: float, dt_s: float) -> None:
        """Add thrust below the speed, idle near it, brakes above it."""
        missing_kt = wanted_kt - self._number("flight.ground_speed")
        lever = MAX_LEVER * _clamp(missing_kt / 6.0, 0.0, 1.0) if wanted_kt else 0.0
        brake = 25.0 if not wanted_kt else 8.0 * _clamp(-missing_kt - 1.5, 0.0, 3.0)
        for engine in "12":
            self._move_towards(f"engine.{engine}.thrust_lever", lever, 6.0 * dt_s)
        for side in ("left", "right"):
            self._move_towards(f"gear.brake_pedal.{side}", brake, 30.0 * dt_s)

    def _steer(self, wanted_deg: float) -> None:
        """Turn the tiller in proportion to the heading error; at speed use the pedals."""
        off = (wanted_deg - self._number("flight.heading") + 180.0) % 360.0 - 180.0
        fast = self._number("flight.ground_speed") > PEDALS_KT
        if fast or self._by_pedals:
            self._cockpit.set("controls.pedals", _clamp(8.0 * off, -60.0, 60.0) if fast else 0.0)
            self._by_pedals = fast
        if fast:
            self._cockpit.set("gear.tiller", 0.0)
            return
        gain = 2.0 if self._number("flight.ground_speed") < 12.0 else 0.8
        self._cockpit.set("gear.tiller", _clamp(gain * off, -MAX_TILLER_DEG, MAX_TILLER_DEG))

    def _move_towards(self, control: str, goal: float, most: float) -> None:
        """Move a control towards a position at a hand's speed."""
        now = self._number(control)
        self._cockpit.set(control, now + _clamp(goal - now, -most, most))

    def _number(self, signal: str) -> float:
        """Return a signal that is known to be a number."""
        return float(self._cockpit.get(signal))


def _clamp(value: float, low: float, high: float) -> float:
    """Limit a value to a range."""
    return max(low, min(high, value))
