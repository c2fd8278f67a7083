"""Fuel: two tanks, selector, shut-off, engine pump, electric pump, and the carburettor's bowl.

Takes: selector, valve, pump switch, engine speed, flow.  Gives: contents, pressure, `fed`.
"""

from __future__ import annotations

from mock_sim.common.dynamics import clamp, fraction_between, lag
from mock_sim.common.panel import Panel, Part, choice_control, quantity_control
from mock_sim.piston.electrical import Electrical

TANK_KG = 70.0
LINE_KG = 0.12
ENGINE_PUMP_PSI = 5.2
ELECTRIC_PUMP_PSI = 4.6
MIN_FEED_PSI = 1.0
LOW_KG = 8.0
SIDES = ("left", "right")
SELECTED_TANKS = {"off": (), "left": ("left",), "right": ("right",), "both": SIDES}

PART = Part(
    controls={
        "fuel.tank.left": 40.0,
        "fuel.tank.right": 39.2,
        "fuel.dipped.left": 0.0,
        "fuel.dipped.right": 0.0,
        "fuel.cap.left": "closed",
        "fuel.cap.right": "closed",
        "fuel.selector": "off",
        "fuel.shutoff": "open",
        "fuel.pump.auxiliary.switch": "off",
        "fuel.drained": "no",
        "fault.fuel_pump": "none",
    },
    drives={"fuel.total": 79.2, "fuel.pressure": 0.0, "alert.fuel.left": "off", "alert.fuel.right": "off"},
    extra=(
        quantity_control("fuel.tank.left", "kg", 0.0, TANK_KG, "Usable fuel in the left tank"),
        quantity_control("fuel.tank.right", "kg", 0.0, TANK_KG, "Usable fuel in the right tank"),
        choice_control(
            "fault.fuel_pump", ("none", "engine", "electric"), "A fuel pump that gives no pressure"
        ),
    ),
)


class Fuel:
    """Tanks, lines and pumps.  `fed` is True while the carburettor has fuel."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical
        self._line_kg = LINE_KG
        self.fed = True

    def step(self, dt_s: float) -> None:
        """Advance pressure, contents and lights."""
        panel, numbers = self._panel, self._panel.numbers
        tanks = [side for side in self._selected_tanks() if numbers[f"fuel.tank.{side}"] > 0.0]
        pressure = self._pump_psi() if tanks else 0.0
        numbers["fuel.pressure"] = lag(numbers["fuel.pressure"], pressure, 0.8 if tanks else 2.0, dt_s)
        self._burn(tanks, numbers["engine.1.fuel_flow"] * dt_s / 3600.0)
        self.fed = self._line_kg > 0.0
        numbers["fuel.total"] = sum(numbers[f"fuel.tank.{side}"] for side in SIDES)
        for side in SIDES:
            lit = self._electrical.powered and numbers[f"fuel.tank.{side}"] < LOW_KG
            panel.words[f"alert.fuel.{side}"] = "on" if lit else "off"

    def _selected_tanks(self) -> tuple[str, ...]:
        """Return the tanks that the selector opens."""
        open_ = self._panel.switch["fuel.shutoff"] == "open"
        return SELECTED_TANKS[self._panel.switch["fuel.selector"]] if open_ else ()

    def _pump_psi(self) -> float:
        """Return the pressure of the two pumps together."""
        panel = self._panel
        broken = panel.switch["fault.fuel_pump"]
        turning = fraction_between(panel.numbers["engine.1.rpm"], 100.0, 600.0)
        own = ENGINE_PUMP_PSI * turning if broken != "engine" else 0.0
        runs = self._electrical.powered and panel.switch["fuel.pump.auxiliary.switch"] == "on"
        if runs:
            self._electrical.draw(4.0)
        electric = ELECTRIC_PUMP_PSI if runs and broken != "electric" else 0.0
        return max(own, electric) + 0.12 * min(own, electric)

    def _burn(self, tanks: list[str], burnt_kg: float) -> None:
        """Take the burnt fuel from the line, and refill the line from the tanks while there is pressure."""
        numbers = self._panel.numbers
        self._line_kg = max(0.0, self._line_kg - burnt_kg)
        if numbers["fuel.pressure"] < MIN_FEED_PSI or not tanks:
            return
        wanted = LINE_KG - self._line_kg
        for side in tanks:
            name = f"fuel.tank.{side}"
            taken = min(numbers[name], wanted / len(tanks))
            numbers[name] = clamp(numbers[name] - taken, 0.0, TANK_KG)
            self._line_kg += taken
