"""The carburettor: its temperature, its ice, and the effect of heat and mixture on power.

Ice grows while the throat is near or below freezing and the air is moist, fastest at small throttle; heat melts it.
Conditions: FAA SAIB CE-09-35 and FAA-H-8083-25 chapter 7 (from memory); the rates are of the invented type.

Takes: air, throttle, heat, mixture.  Gives: throat temperature, shares of power.
"""

from __future__ import annotations

from mock_sim.common.dynamics import clamp, fraction_between, lag
from mock_sim.common.panel import Panel, Part

GROW_S = 1500.0
MELT_S = 18.0
HEAT_RISE_C = 42.0
CUT_OFF = 18.0
"""Mixture below which no fuel comes through, per cent."""
BEST_POWER = 0.74
BEST_HEAT = 0.62
RICH_FALL = 0.25
LEAN_FALL = 2.2

PART = Part(
    controls={"ice.carburettor": 0.0, "engine.1.mixture": 0.0},
    drives={"ice.carburettor_temperature": 9.0},
)


class Carburettor:
    """`ice` is 0 for a free throat to 1 for a blocked one."""

    def __init__(self, panel: Panel) -> None:
        self._panel = panel
        self.ice = 0.0

    def step(self, dt_s: float) -> None:
        """Advance temperature and ice."""
        panel, numbers = self._panel, self._panel.numbers
        running = panel.words["engine.1.running"] == "yes"
        name = "ice.carburettor_temperature"
        numbers[name] = clamp(lag(numbers[name], self._throat_c(running=running), 4.0, dt_s), -59.0, 79.0)
        throat = numbers[name]
        if throat > 3.0:
            self.ice = max(0.0, self.ice - fraction_between(throat, 3.0, 15.0) * dt_s / MELT_S)
        elif running:
            likely = self._moisture() * fraction_between(throat, -25.0, -8.0)
            small = 1.0 - 0.6 * panel.dial["engine.1.throttle"] / 100.0
            self.ice = min(1.0, self.ice + likely * small * dt_s / GROW_S)

    def _moisture(self) -> float:
        """Return the moisture of the air, 0 to 1."""
        seen = self._panel.words["weather.visible_moisture"] == "yes"
        return 1.0 if seen else fraction_between(self._panel.dial["weather.humidity"], 45.0, 95.0)

    def _throat_c(self, *, running: bool) -> float:
        """Return the target of the throat temperature."""
        numbers, dial = self._panel.numbers, self._panel.dial
        outside = numbers["flight.outside_air_temperature"]
        if not running:
            return outside
        cooling = 20.0 - 7.0 * dial["engine.1.throttle"] / 100.0
        return outside - cooling + HEAT_RISE_C * dial["ice.carburettor"] / 100.0

    def richness(self, density: float) -> float:
        """Return fuel relative to air: 1 at full rich in standard air at sea level, 0 at cut-off.

        Args:
            density: of the air outside, kg/m3.
        """
        lever = self._panel.dial["engine.1.mixture"]
        if lever < CUT_OFF:
            return 0.0
        warm = 1.0 + 0.04 * self._panel.dial["ice.carburettor"] / 100.0
        primed = 1.08 if self._panel.switch["engine.1.primer"] == "open" else 1.0
        thin: float = (1.225 / max(0.2, density)) ** 0.5
        return lever / 100.0 * warm * primed * thin

    def power_fraction(self, density: float) -> float:
        """Return the share of the engine speed that mixture, heat and ice leave; 0 without combustion.

        Args:
            density: of the air outside, kg/m3.
        """
        rich = self.richness(density)
        if rich <= 0.0:
            return 0.0
        off = rich - BEST_POWER
        mixture = 1.0 - (RICH_FALL if off > 0.0 else LEAN_FALL) * off * off
        heat = 1.0 - 0.05 * self._panel.dial["ice.carburettor"] / 100.0
        return clamp(mixture * heat * (1.0 - 0.3 * self.ice), 0.0, 1.0)

    def combustion_heat(self, density: float) -> float:
        """Return the relative heat of combustion, 1 at peak.

        Args:
            density: of the air outside, kg/m3.
        """
        off = self.richness(density) - BEST_HEAT
        return clamp(1.0 - 0.9 * off * off, 0.3, 1.0)
