"""The pilot's control inputs: move each control a little towards what is wanted.

Takes: headings, tracks, pitch, rates of descent.  Gives: movements of column, wheel, pedals, toe brakes and throttle.
"""

from __future__ import annotations

from math import degrees

from mock_sim.common.atmosphere import FT_M
from mock_sim.common.dynamics import clamp, slew
from mock_sim.common.panel import Panel
from mock_sim.piston.airfield import RunwayPosition, runway_position
from mock_sim.piston.motion import Motion

RELEASE_BRAKE_AFTER_S = 6.0
"""Delay before the pilot releases a forgotten parking brake, seconds."""
TRIM_FRACTION = 0.35


class ControlInputs:
    """Hands and feet on the controls."""

    def __init__(self, panel: Panel, motion: Motion) -> None:
        self._panel = panel
        self._motion = motion
        self._brake_pedal = 0.0
        self._stuck_s = 0.0

    def _steer(self, wanted_deg: float) -> float:
        """Move the pedals towards a heading; return the heading error in degrees."""
        off = (wanted_deg - self._number("flight.heading") + 180.0) % 360.0 - 180.0
        self._set_control("pedals", clamp(4.0 * off / (1.0 + 0.12 * self._speed_kt()), -100.0, 100.0))
        return off

    def _hold_sink_rate(self, rate_ft_min: float) -> None:
        """Move the nose towards a rate of descent."""
        wanted_deg = degrees(-rate_ft_min * FT_M / 60.0 / max(15.0, self._motion.speed_ms))
        self._hold_pitch(
            self._number("flight.pitch") + clamp(wanted_deg - degrees(self._motion.climb_rad), -4.0, 4.0)
        )

    def _hold_pitch(self, wanted_deg: float) -> None:
        """Move the column towards a pitch, and against the trim force."""
        off = wanted_deg - self._number("flight.pitch")
        held = TRIM_FRACTION * self._number("controls.elevator_trim")
        self._set_control("column", clamp(14.0 * off - held, -100.0, 100.0))

    def _bank_to_track(self, track_deg: float) -> None:
        """Move the wheel towards a track over the ground; only gently near the ground."""
        off = (track_deg - self._number("flight.track") + 180.0) % 360.0 - 180.0
        most = 20.0 if self._number("flight.height") > 150.0 else 8.0
        bank = clamp(1.1 * off, -most, most)
        self._set_control("wheel", clamp(3.5 * (bank - self._number("flight.bank")), -60.0, 60.0))
        if not self._motion.on_ground:
            self._set_control("pedals", clamp(0.4 * bank, -10.0, 10.0))

    def _intercept_track(self, course_deg: float, right_m: float) -> float:
        """Return the track that brings the aeroplane onto a line to its left."""
        return course_deg - clamp(0.16 * right_m, -35.0, 35.0)

    def _release_parking_brake(self, dt_s: float) -> None:
        """Release the parking brake if the aeroplane does not move."""
        stopped = self._speed_kt() < 0.2 and self._panel.switch["gear.parking_brake"] == "set"
        self._stuck_s = self._stuck_s + dt_s if stopped else 0.0
        if self._stuck_s > RELEASE_BRAKE_AFTER_S:
            self._panel.move("gear.parking_brake", "released")

    def _position(self) -> RunwayPosition:
        """Return the position along and right of the runway, metres."""
        return runway_position(self._motion.north_m, self._motion.east_m)

    def _speed_kt(self) -> float:
        return self._number("flight.ground_speed")

    def _number(self, name: str) -> float:
        return self._panel.numbers[name]

    def _begin_task(self, task: str) -> None:
        """Begin another task."""
        self._panel.switch["pilot.task"] = task

    def _set_control(self, axis: str, value: float) -> None:
        """Set column, wheel or pedals."""
        self._panel.dial[f"controls.{axis}"] = value

    def _throttle(self, wanted: float, most: float) -> None:
        """Move the throttle at a hand's speed."""
        name = "engine.1.throttle"
        after = slew(self._panel.dial[name], wanted, most, 1.0)
        self._panel.dial[name] = self._panel.numbers[name] = after

    def _brake(self, pedal: float) -> None:
        """Press both toe brakes; leave them alone while the demand is unchanged, so that a scenario can test them."""
        if pedal == self._brake_pedal:
            return
        self._brake_pedal = pedal
        for side in ("left", "right"):
            name = f"gear.brake_pedal.{side}"
            self._panel.dial[name] = self._panel.numbers[name] = pedal
