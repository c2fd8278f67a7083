"""Ice and rain protection: anti-ice valves, air-data and windshield heat, wipers, the ice detector.

Takes: its switches, power, bleed air, weather.  Gives: the active heaters and the open valves.
"""

from __future__ import annotations

from mock_sim.common.dynamics import slew
from mock_sim.common.panel import Panel, Part
from mock_sim.twin_jet.electrical import Electrical

DUCT = {"1": "left", "2": "right"}
BUS = {"left": "1", "right": "2"}

PART = Part(
    controls={
        "ice.engine.1": "off",
        "ice.engine.2": "off",
        "ice.wing": "off",
        "ice.air_data.left": "off",
        "ice.air_data.right": "off",
        "ice.windshield.left": "off",
        "ice.windshield.right": "off",
        "ice.wiper.left": "parked",
        "ice.wiper.right": "parked",
    },
    drives={
        "ice.engine.valve.1": "closed",
        "ice.engine.valve.2": "closed",
        "ice.wing_valve": "closed",
        "ice.air_data.left": "off",
        "ice.air_data.right": "off",
        "ice.windshield.left": "off",
        "ice.windshield.right": "off",
        "ice.airframe": "no",
        "ice.detected": "no",
    },
)


class IceProtection:
    """Valves and heaters."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical
        self._valve = {"1": 0.0, "2": 0.0, "wing": 0.0}

    def step(self, dt_s: float) -> None:
        """Advance valves and heaters."""
        panel = self._panel
        for k in "12":
            air = panel.words[f"engine.{k}.running"] == "yes"
            self._move(k, panel.switch[f"ice.engine.{k}"], f"ice.engine.valve.{k}", dt_s, air=air)
        air = max(panel.numbers["bleed.duct.left"], panel.numbers["bleed.duct.right"]) > 12.0
        self._move("wing", panel.switch["ice.wing"], "ice.wing_valve", dt_s, air=air)
        self._heat()
        self._detect()

    def _move(self, valve: str, selected: str, signal: str, dt_s: float, *, air: bool) -> None:
        """Move a valve in two seconds with power and air; without either it closes."""
        wanted = selected == "on" and air and self._electrical.any_dc
        self._valve[valve] = slew(self._valve[valve], 1.0 if wanted else 0.0, 0.5, dt_s)
        self._panel.words[signal] = "open" if self._valve[valve] >= 0.99 else "closed"

    def _heat(self) -> None:
        """Run heaters that are on and whose AC bus is powered."""
        panel = self._panel
        for side, bus in BUS.items():
            for kind in ("air_data", "windshield"):
                name = f"ice.{kind}.{side}"
                panel.words[name] = panel.switch[name] if self._electrical.ac[bus] else "off"

    def _detect(self) -> None:
        """Detect ice: it needs moisture, cold, airflow and power."""
        panel, numbers = self._panel, self._panel.numbers
        senses = (
            panel.words["weather.visible_moisture"] == "yes"
            and -40.0 <= numbers["flight.outside_air_temperature"] <= 4.0
            and (numbers["flight.airspeed"] > 60.0 or numbers["engine.1.n1"] > 15.0)
            and self._electrical.any_dc
        )
        panel.words["ice.detected"] = "yes" if senses else "no"
