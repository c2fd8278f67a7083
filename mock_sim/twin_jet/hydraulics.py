"""Hydraulic power: two systems, each with an engine-driven and an electric pump, 3 000 psi nominal.

Takes: pump switches, engine speed, AC buses, demand of flaps, gear and brakes.  Gives: pressure, quantity, lights.
"""

from __future__ import annotations

from mock_sim.common.dynamics import clamp, fraction_between, lag, slew
from mock_sim.common.panel import Panel, Part, choice_control
from mock_sim.twin_jet.electrical import Electrical

NOMINAL_PSI = 3000.0
ENGINE_PUMP_N2 = 35.0
LIGHT_ON_PSI = 1300.0
LIGHT_OFF_PSI = 1600.0
LEAK_S = 45.0
ELECTRIC_BUS = {"1": "2", "2": "1"}
"""The AC bus of each electric pump: crosswise, so that one lost bus leaves each system a pump."""

PART = Part(
    controls={
        **{f"hydraulics.{k}.pump.{kind}.switch": "off" for k in "12" for kind in ("engine", "electric")},
        "fault.hydraulic.1": "none",
        "fault.hydraulic.2": "none",
    },
    drives={
        **{f"hydraulics.{k}.pressure": 0.0 for k in "12"},
        **{f"hydraulics.{k}.quantity": 92.0 for k in "12"},
        **{f"hydraulics.{k}.temperature": 15.0 for k in "12"},
        **{
            f"hydraulics.{k}.pump.{kind}.low_pressure": "off" for k in "12" for kind in ("engine", "electric")
        },
    },
    extra=tuple(
        choice_control(f"fault.hydraulic.{k}", ("none", "leak"), f"System {k} loses its fluid") for k in "12"
    ),
)


class Hydraulics:
    """The two systems.  A user adds its flow to `demand`, 0 to 1, each step."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical
        self._output = {(k, kind): 0.0 for k in "12" for kind in ("engine", "electric")}
        self._fluid = {"1": 92.0, "2": 92.0}
        self.demand = {"1": 0.0, "2": 0.0}

    def works(self, k: str) -> bool:
        """Return True while a system can move its users.

        Args:
            k: "1" or "2".
        """
        return self._panel.numbers[f"hydraulics.{k}.pressure"] > 1000.0

    def step(self, dt_s: float) -> None:
        """Advance pumps, pressure and fluid."""
        for k in "12":
            self._pumps(k, dt_s)
            self._pressure(k, dt_s)
            self._reservoir(k, dt_s)
            self.demand[k] = 0.0

    def _strength(self, k: str, kind: str) -> float:
        """Return the share of its flow that a pump gives, 0 to 1."""
        panel = self._panel
        if panel.switch[f"hydraulics.{k}.pump.{kind}.switch"] == "off" or self._fluid[k] < 5.0:
            return 0.0
        if kind == "electric":
            return 1.0 if self._electrical.ac[ELECTRIC_BUS[k]] else 0.0
        if panel.switch[f"fire.engine.{k}.handle"] == "pulled":
            return 0.0
        return fraction_between(panel.numbers[f"engine.{k}.n2"], ENGINE_PUMP_N2, 50.0)

    def _pumps(self, k: str, dt_s: float) -> None:
        """Update each pump's output and its light."""
        words = self._panel.words
        for kind in ("engine", "electric"):
            target = NOMINAL_PSI * self._strength(k, kind)
            self._output[k, kind] = output = lag(self._output[k, kind], target, 0.8, dt_s)
            light = f"hydraulics.{k}.pump.{kind}.low_pressure"
            low = output < (LIGHT_OFF_PSI if words[light] == "on" else LIGHT_ON_PSI)
            words[light] = "on" if low and self._electrical.any_dc else "off"

    def _pressure(self, k: str, dt_s: float) -> None:
        """Move the system pressure to its best pump within seconds; without a pump it leaks down slowly."""
        name = f"hydraulics.{k}.pressure"
        pressure = self._panel.numbers[name]
        best = max(self._output[k, "engine"], self._output[k, "electric"])
        weak = 0.0 if self._output[k, "engine"] > 2000.0 else 450.0
        target = best - weak * min(1.0, self.demand[k])
        if target > pressure:
            pressure = lag(pressure, target, 1.2, dt_s)
        else:
            used = 900.0 * self.demand[k] * dt_s
            pressure = max(target, lag(pressure, 0.0, LEAK_S, dt_s) - used)
        self._panel.numbers[name] = 0.0 if best < 1.0 and pressure < 2.0 else clamp(pressure, 0.0, 3200.0)

    def _reservoir(self, k: str, dt_s: float) -> None:
        """Update the fluid in the reservoir, less the pressurised part; it warms while a pump turns."""
        panel, numbers = self._panel, self._panel.numbers
        if panel.switch[f"fault.hydraulic.{k}"] == "leak":
            self._fluid[k] = slew(self._fluid[k], 0.0, 1.5, dt_s)
        pressure = numbers[f"hydraulics.{k}.pressure"]
        numbers[f"hydraulics.{k}.quantity"] = max(0.0, self._fluid[k] - 4.0 * pressure / NOMINAL_PSI)
        outside = numbers["flight.outside_air_temperature"]
        warm = max(0.0, outside) + 35.0 * pressure / NOMINAL_PSI
        name = f"hydraulics.{k}.temperature"
        numbers[name] = clamp(lag(numbers[name], warm, 300.0, dt_s), -60.0, 200.0)
