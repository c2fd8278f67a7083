"""Flying by hand: rotation, a pitch, a heading by bank, the landing system's path, flare and touchdown.

Takes: the wanted motion, and the signals of the aeroplane.  Gives: column and wheel moved.  Gains by trial with the mock aeroplane.
"""

from __future__ import annotations

from math import atan2, degrees

from mock_sim.crew.seat import Cockpit
from mock_sim.scenario.model import Fly, Scenario

MAX_COLUMN = 55.0
MAX_WHEEL = 45.0
MAX_BANK_DEG = 20.0
FLARE_FT = 45.0
GLIDE_DEG = 3.0
FT_MIN_KT = 60.0 / 6076.115


class FlightControl:
    """Flies by small corrections."""

    def __init__(self, cockpit: Cockpit) -> None:
        self._cockpit = cockpit
        self._released = True

    def tick(self, fly: Fly, scenario: Scenario) -> None:
        """Correct pitch and bank.

        Args:
            fly: the wanted motion; an empty one releases the controls.
            scenario: for headings of the trip.
        """
        if fly == Fly():
            if not self._released:
                self._release_controls()
            return
        self._released = False
        if fly.path and self._cockpit.get("flight.on_ground") == "yes":
            self._column(-0.35 * self._number("flight.pitch"))
            self._cockpit.set("controls.wheel", 0.0)
            return
        if fly.pitch_deg is not None:
            self._column(0.8 * (fly.pitch_deg - self._number("flight.pitch")))
        if fly.path:
            self._column(self._path_pitch_rate())
        if fly.heading_deg is not None:
            self._wheel(float(scenario.value(fly.heading_deg)))

    def _release_controls(self) -> None:
        """Centre column and wheel."""
        self._released = True
        for control in ("controls.column", "controls.wheel"):
            self._cockpit.set(control, 0.0)

    def _column(self, rate_deg_s: float) -> None:
        """Move the column for a pitch rate."""
        self._cockpit.set("controls.column", _clamp(22.0 * rate_deg_s, -MAX_COLUMN, MAX_COLUMN))

    def _wheel(self, heading_deg: float) -> None:
        """Bank towards a heading, corrected by the localizer deviation."""
        off = (heading_deg - self._number("flight.track") + 180.0) % 360.0 - 180.0
        off -= _clamp(6.0 * self._number("navigation.localizer"), -12.0, 12.0)
        wanted = _clamp(1.5 * off, -MAX_BANK_DEG, MAX_BANK_DEG)
        if self._number("flight.height") < 15.0:
            wanted = 0.0
        self._cockpit.set(
            "controls.wheel", _clamp(4.0 * (wanted - self._number("flight.bank")), -MAX_WHEEL, MAX_WHEEL)
        )

    def _path_pitch_rate(self) -> float:
        """Return the pitch rate that follows the path, or that flares below the flare height."""
        height, ground_kt = self._number("radio_altitude"), self._number("flight.ground_speed")
        if height < FLARE_FT:
            wanted, gain = -100.0 - 10.0 * height, 0.9
        else:
            high_ft = 0.117 * height * self._number("navigation.glide_path")
            wanted, gain = -5.31 * ground_kt - _clamp(6.0 * high_ft, -350.0, 350.0), 0.4
        return gain * self._angle_deg(wanted - self._number("flight.vertical_speed"), ground_kt)

    @staticmethod
    def _angle_deg(climb_ft_min: float, ground_kt: float) -> float:
        """Return the angle of a climb rate at a ground speed."""
        return degrees(atan2(climb_ft_min * FT_MIN_KT, max(60.0, ground_kt)))

    def _number(self, signal: str) -> float:
        """Return a signal that is known to be a number."""
        return float(self._cockpit.get(signal))


def _clamp(value: float, low: float, high: float) -> float:
    """Limit a value to a range."""
    return max(low, min(high, value))
