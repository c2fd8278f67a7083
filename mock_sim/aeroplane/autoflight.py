"""Autoflight: what is set on its panel, which modes are active, and a simple autopilot for later flights.

Takes: panel settings, buttons, power, attitude.  Gives: modes, and the rates that an engaged autopilot asks for.
"""

from __future__ import annotations

from mock_sim.aeroplane.dynamics import clamp
from mock_sim.aeroplane.electrical import Electrical
from mock_sim.aeroplane.hydraulics import Hydraulics
from mock_sim.aeroplane.panel import Panel, Part

LEAST_HEIGHT_FT = 400.0
BUS = {"left": "1", "right": "2"}

PART = Part(
    controls={
        "autoflight.speed": 110.0,
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
        """All off."""
        self._panel = panel
        self._electrical = electrical
        self._hydraulics = hydraulics

    def step(self, dt_s: float) -> None:  # noqa: ARG002 - modes follow at once
        """Work out what is engaged."""
        self._directors()
        self._pilots()
        self._modes()

    def _directors(self) -> None:
        """Flight directors and yaw damper work while they have power."""
        panel = self._panel
        for side, bus in BUS.items():
            name = f"autoflight.flight_director.{side}"
            panel.words[name] = panel.switch[name] if self._electrical.ac[bus] else "off"
        damps = self._electrical.any_ac and (self._hydraulics.works("1") or self._hydraulics.works("2"))
        if not damps:  # its switch is held by the damper itself
            panel.switch["autoflight.yaw_damper"] = "off"
        panel.words["autoflight.yaw_damper"] = panel.switch["autoflight.yaw_damper"]

    def _pilots(self) -> None:
        """An autopilot engages in the air only, above its least height, and falls out without power."""
        panel = self._panel
        flying = panel.numbers["flight.height"] >= LEAST_HEIGHT_FT
        for k in "12":
            name = f"autoflight.pilot.{k}"
            able = flying and self._electrical.ac[k] and self._hydraulics.works(k)
            if not able:
                panel.switch[name] = "off"
            panel.words[name] = panel.switch[name]

    @property
    def engaged(self) -> bool:
        """True while an autopilot flies."""
        return any(self._panel.words[f"autoflight.pilot.{k}"] == "on" for k in "12")

    def _modes(self) -> None:
        """Lateral, vertical and thrust modes; what cannot be active falls back to off."""
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

    def pitch_rate(self, pitch_deg: float, by_hand: float) -> float:
        """Pitch rate in degrees a second: by hand, or what the vertical mode asks for.

        Args:
            pitch_deg: pitch now.
            by_hand: the rate that the elevator gives.
        """
        if not self.engaged:
            return by_hand
        wanted = self._wanted_climb()
        return clamp(0.5 * (self._pitch_for(wanted) - pitch_deg), -2.0, 2.0)

    def _wanted_climb(self) -> float:
        """Rate of climb that the vertical mode asks for, ft/min."""
        numbers = self._panel.numbers
        to_go = numbers["autoflight.altitude"] - numbers["flight.altitude"]
        mode = self._panel.words["autoflight.vertical_mode"]
        if mode == "altitude":
            return clamp(6.0 * to_go, -1000.0, 1000.0)
        if mode == "vertical_speed":
            rate = numbers["autoflight.vertical_speed"]
            return clamp(rate, -6.0 * abs(to_go), 6.0 * abs(to_go)) if rate * to_go > 0 else rate
        if mode in ("climb", "takeoff", "go_around", "descent"):
            spare = 60.0 * (numbers["flight.airspeed"] - numbers["autoflight.speed"])
            return clamp(6.0 * to_go, -1800.0, 1800.0 + clamp(spare, -1500.0, 1200.0))
        return 0.0

    def _pitch_for(self, climb_ft_min: float) -> float:
        """Pitch that brings the climb there, degrees."""
        numbers = self._panel.numbers
        missing = climb_ft_min - numbers["flight.vertical_speed"]
        return clamp(numbers["flight.pitch"] + 0.004 * missing, -8.0, 17.0)

    def bank_rate(self, bank_deg: float, by_hand: float) -> float:
        """Roll rate in degrees a second: by hand, or what the lateral mode asks for.

        Args:
            bank_deg: bank now.
            by_hand: the rate that the ailerons give.
        """
        if not self.engaged:
            return by_hand
        wanted = 0.0
        if self._panel.words["autoflight.lateral_mode"] != "off":
            numbers = self._panel.numbers
            off = (numbers["autoflight.heading"] - numbers["flight.heading"] + 180.0) % 360.0 - 180.0
            wanted = clamp(1.2 * off, -25.0, 25.0)
        return clamp(wanted - bank_deg, -5.0, 5.0)
