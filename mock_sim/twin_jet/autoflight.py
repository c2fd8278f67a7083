"""Autoflight: panel settings, active modes, and the commands of autopilot and autothrust.

Takes: panel settings, buttons, power, attitude.  Gives: modes, the rates that an engaged autopilot asks for, thrust levers.
"""

from __future__ import annotations

from mock_sim.common.dynamics import clamp, slew
from mock_sim.common.panel import Panel, Part
from mock_sim.twin_jet.electrical import Electrical
from mock_sim.twin_jet.guidance import (
    CAPTURE_FT,
    Guidance,
    captains_altitude_ft,
    climb_angle_deg,
    target_speed_kt,
)
from mock_sim.twin_jet.hydraulics import Hydraulics

MIN_ENGAGE_FT = 400.0
MIN_ENGAGED_FT = 50.0
"""An autopilot can be engaged above the first and stays engaged down to the second."""
LEVER_OF_MODE = {"climb": 84.0, "idle": 0.0}
BUS = {"left": "1", "right": "2"}

PART = Part(
    controls={
        "autoflight.speed": 110.0,
        "autoflight.speed_mode": "dialled",
        "autoflight.heading": 0.0,
        "autoflight.altitude": 0.0,
        "autoflight.vertical_speed": 0.0,
        "autoflight.course.left": 0.0,
        "autoflight.course.right": 0.0,
        "autoflight.flight_director.left": "off",
        "autoflight.flight_director.right": "off",
        "autoflight.pilot.1": "off",
        "autoflight.pilot.2": "off",
        "autoflight.yaw_damper": "off",
        "autoflight.thrust_arm": "off",
        "autoflight.thrust_mode": "off",
        "autoflight.lateral_mode": "off",
        "autoflight.vertical_mode": "off",
        "autoflight.takeoff_thrust": 0.0,
    },
    drives={
        "autoflight.flight_director.left": "off",
        "autoflight.flight_director.right": "off",
        "autoflight.pilot.1": "off",
        "autoflight.pilot.2": "off",
        "autoflight.yaw_damper": "off",
        "autoflight.thrust_arm": "off",
        "autoflight.thrust_mode": "off",
        "autoflight.lateral_mode": "off",
        "autoflight.vertical_mode": "off",
    },
)


class Autoflight:
    """Modes.  A mode needs a flight director or an autopilot; thrust modes need the arm switch."""

    def __init__(self, panel: Panel, electrical: Electrical, hydraulics: Hydraulics) -> None:
        self._panel = panel
        self._electrical = electrical
        self._hydraulics = hydraulics
        self._guidance = Guidance(panel)

    def step(self, dt_s: float) -> None:
        """Update what is engaged, and move the thrust levers."""
        self._directors()
        self._autopilots()
        self._modes()
        self._guidance.step(dt_s)
        self._level_off()
        self._move_levers(dt_s)

    def _directors(self) -> None:
        """Run flight directors and yaw damper while they have power."""
        panel = self._panel
        for side, bus in BUS.items():
            name = f"autoflight.flight_director.{side}"
            panel.words[name] = panel.switch[name] if self._electrical.ac[bus] else "off"
        damps = (
            self._electrical.any_ac
            and self._electrical.supplies("yaw_damper")
            and (self._hydraulics.works("1") or self._hydraulics.works("2"))
        )
        if not damps:  # its switch is held by the damper itself
            panel.switch["autoflight.yaw_damper"] = "off"
        panel.words["autoflight.yaw_damper"] = panel.switch["autoflight.yaw_damper"]

    def _autopilots(self) -> None:
        """Engage an autopilot only in the air above its minimum height; disengage it without power."""
        panel = self._panel
        height = panel.numbers["flight.height"]
        for k in "12":
            name = f"autoflight.pilot.{k}"
            flying = height >= (MIN_ENGAGED_FT if panel.words[name] == "on" else MIN_ENGAGE_FT)
            able = flying and self._electrical.ac[k] and self._hydraulics.works(k)
            if not able:
                panel.switch[name] = "off"
            panel.words[name] = panel.switch[name]

    @property
    def engaged(self) -> bool:
        """True while an autopilot flies."""
        return any(self._panel.words[f"autoflight.pilot.{k}"] == "on" for k in "12")

    def _modes(self) -> None:
        """Update lateral, vertical and thrust modes; one that cannot be active becomes off."""
        panel = self._panel
        guided = self.engaged or any(panel.words[f"autoflight.flight_director.{s}"] == "on" for s in BUS)
        for axis in ("lateral", "vertical"):
            name = f"autoflight.{axis}_mode"
            if not guided:
                panel.switch[name] = "off"
            panel.words[name] = panel.switch[name]
        if not self._electrical.any_ac:
            panel.switch["autoflight.thrust_arm"] = "off"
        armed = panel.words["autoflight.thrust_arm"] = panel.switch["autoflight.thrust_arm"]
        mode = panel.switch["autoflight.thrust_mode"]
        if armed == "off":
            mode = panel.switch["autoflight.thrust_mode"] = "off"
        panel.words["autoflight.thrust_mode"] = "armed" if armed == "armed" and mode == "off" else mode

    def _move_levers(self, dt_s: float) -> None:
        """Move both thrust levers together in the air while autothrust is armed."""
        panel, numbers = self._panel, self._panel.numbers
        mode = panel.words["autoflight.thrust_mode"]
        if (mode not in LEVER_OF_MODE and mode != "speed") or panel.words["flight.on_ground"] == "yes":
            return
        for k in "12":
            name = f"engine.{k}.thrust_lever"
            now = numbers[name]
            if mode == "speed":
                missing = target_speed_kt(panel) - numbers["flight.airspeed"]
                rate = clamp(0.3 * missing - 3.5 * self._guidance.acceleration_kt_s, -6.0, 6.0)
                panel.turn(name, clamp(now + rate * dt_s, 0.0, LEVER_OF_MODE["climb"]))
            else:
                panel.turn(name, slew(now, LEVER_OF_MODE[mode], 5.0, dt_s))

    def _level_off(self) -> None:
        """Change climb or descent to altitude near the selected altitude; thrust then holds the speed."""
        panel = self._panel
        to_go = panel.numbers["autoflight.altitude"] - captains_altitude_ft(panel)
        mode = panel.words["autoflight.vertical_mode"]
        if (
            self.engaged
            and mode in ("climb", "descent", "vertical_speed", "go_around")
            and abs(to_go) < CAPTURE_FT
        ):
            panel.move("autoflight.vertical_mode", "altitude")
            if panel.words["autoflight.thrust_mode"] in LEVER_OF_MODE:
                panel.move("autoflight.thrust_mode", "speed")

    def pitch_rate(self, pitch_deg: float, manual_rate: float) -> float:
        """Return the pitch rate, degrees a second: by hand, or commanded by the vertical mode.

        Args:
            pitch_deg: pitch now.
            manual_rate: the rate that the elevator gives.
        """
        if not self.engaged:
            return manual_rate
        numbers = self._panel.numbers
        wanted = self._guidance.climb_deg(self._panel.words["autoflight.vertical_mode"])
        now = climb_angle_deg(numbers["flight.vertical_speed"], numbers["flight.ground_speed"])
        rate = clamp(0.35 * (wanted - now), -1.2, 1.2)
        return clamp(rate, -8.0 - pitch_deg, 17.0 - pitch_deg)

    def bank_rate(self, bank_deg: float, manual_rate: float) -> float:
        """Return the roll rate, degrees a second: by hand, or commanded by the lateral mode.

        Args:
            bank_deg: bank now.
            manual_rate: the rate that the ailerons give.
        """
        if not self.engaged:
            return manual_rate
        wanted = self._guidance.bank_deg(self._panel.words["autoflight.lateral_mode"])
        return clamp(wanted - bank_deg, -5.0, 5.0)
