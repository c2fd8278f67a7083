"""Pressurisation and cabin temperature: open on the ground, a scheduled cabin altitude in the air.

Takes: mode, packs, outside pressure, power.  Gives: outflow valve, cabin altitude, rate, differential, temperature.
"""

from __future__ import annotations

from mock_sim.common.atmosphere import pressure_hpa, standard_height_ft
from mock_sim.common.dynamics import clamp, lag, slew
from mock_sim.common.panel import Panel, Part
from mock_sim.twin_jet.airports import FIELD_ELEVATION_FT
from mock_sim.twin_jet.electrical import Electrical

PSI_HPA = 68.94757
CABIN_CLIMB_FT_MIN = 500.0
CABIN_DESCENT_FT_MIN = 450.0

PART = Part(
    controls={
        "cabin.mode": "auto",
        "cabin.outflow_valve": 100.0,
        "cabin.arrival_elevation": 0.0,
    },
    drives={
        "cabin.outflow_valve": 100.0,
        "cabin.altitude": FIELD_ELEVATION_FT,
        "cabin.rate": 0.0,
        "cabin.differential": 0.0,
        "cabin.temperature": 16.0,
    },
)


class Pressurisation:
    """The cabin.  In manual mode the outflow valve follows its control, and the cabin follows the valve."""

    def __init__(self, panel: Panel, electrical: Electrical) -> None:
        self._panel = panel
        self._electrical = electrical

    def step(self, dt_s: float) -> None:
        """Advance the cabin."""
        if dt_s <= 0.0:
            return
        self._valve(dt_s)
        self._altitude(dt_s)
        self._temperature(dt_s)

    def _has_pack_flow(self) -> bool:
        """Return True while at least one pack gives air."""
        words = self._panel.words
        return "yes" in (words["air.pack.left.flow"], words["air.pack.right.flow"])

    def _valve(self, dt_s: float) -> None:
        """Move the outflow valve: open on the ground, nearly shut in the air, by hand in manual; it stops without power."""
        panel = self._panel
        if not self._electrical.any_dc:
            return
        if panel.switch["cabin.mode"] == "manual":
            target = panel.dial["cabin.outflow_valve"]
        else:
            target = 100.0 if panel.words["flight.on_ground"] == "yes" else 18.0
        name = "cabin.outflow_valve"
        panel.numbers[name] = slew(panel.numbers[name], target, 12.0, dt_s)

    def _altitude(self, dt_s: float) -> None:
        """Move the cabin altitude to its schedule, or to the outside if it is open or has no air."""
        numbers = self._panel.numbers
        outside = numbers["flight.pressure_altitude"]
        before = numbers["cabin.altitude"]
        if self._has_pack_flow() and numbers["cabin.outflow_valve"] < 60.0:
            target = self._schedule(outside)
            rate = CABIN_CLIMB_FT_MIN if target > before else CABIN_DESCENT_FT_MIN
            after = slew(before, target, rate / 60.0, dt_s)
        else:
            open_share = 0.02 + 0.3 * numbers["cabin.outflow_valve"] / 100.0
            step = clamp((outside - before) * open_share, -90.0, 90.0)
            after = before + step * min(1.0, dt_s)
        after = clamp(max(after, self._lowest(outside)), -2000.0, 50000.0)
        numbers["cabin.altitude"] = after
        rate = clamp((after - before) / dt_s * 60.0, -6000.0, 6000.0)
        numbers["cabin.rate"] = lag(numbers["cabin.rate"], rate, 2.0, dt_s)
        difference = (pressure_hpa(after) - pressure_hpa(outside)) / PSI_HPA
        numbers["cabin.differential"] = clamp(difference, -1.0, 12.0)

    def _schedule(self, outside_ft: float) -> float:
        """Return the cabin altitude for a flight altitude: 8 000 ft at 41 000 ft, in proportion below."""
        numbers = self._panel.numbers
        landing = numbers["cabin.arrival_elevation"] + standard_height_ft(numbers["weather.qnh"])
        return landing + max(0.0, outside_ft - landing) * 8000.0 / 41000.0

    @staticmethod
    def _lowest(outside_ft: float) -> float:
        """Return the lowest cabin altitude that the relief valves allow, roughly."""
        return outside_ft * 0.62 - 17500.0 if outside_ft > 28000.0 else -2000.0

    def _temperature(self, dt_s: float) -> None:
        """Hold 22 degrees with a pack; without one the cabin drifts to the outside."""
        numbers = self._panel.numbers
        outside = clamp(numbers["flight.outside_air_temperature"], -40.0, 55.0)
        target, slow_s = (22.0, 240.0) if self._has_pack_flow() else (outside, 2400.0)
        numbers["cabin.temperature"] = lag(numbers["cabin.temperature"], target, slow_s, dt_s)
