"""The world around the aeroplane: air, weather and time of day.

Takes: weather, time and height on the panel.  Gives: temperature, pressure and density at the aeroplane.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import cos, radians
from types import MappingProxyType

from mock_sim.common.atmosphere import KT_MS, density_kg_m3, pressure_hpa, standard_height_ft
from mock_sim.common.dynamics import clamp
from mock_sim.common.panel import Panel
from rules.signals.model import Value

START_UTC_S = 7 * 3600.0 + 50 * 60.0
DAY_S = 86400.0

WEATHER_CONTROLS: Mapping[str, Value] = MappingProxyType(
    {
        "sim.paused": "no",
        "sim.rate": 1.0,
        "flight.outside_air_temperature": 6.0,
        "weather.visible_moisture": "no",
        "weather.qnh": 1009.0,
        "weather.wind_direction": 150.0,
        "weather.wind_speed": 6.0,
        "weather.visibility": 9999.0,
        "weather.night": "no",
        "clock.utc": START_UTC_S,
    }
)
"""Start positions of the controls for simulator, weather and time; an aeroplane may begin with others."""


class World:
    """The air at the aeroplane: `pressure_hpa`, `density_kg_m3`."""

    def __init__(self, panel: Panel, elevation_ft: float) -> None:
        """Start with the weather on the panel."""
        self._panel = panel
        self._elevation_ft = elevation_ft
        self.pressure_hpa = 1013.25
        self.density_kg_m3 = 1.225
        self.step(0.0)

    def step(self, dt_s: float) -> None:
        """Advance the clock, and compute the air at the present height."""
        numbers = self._panel.numbers
        numbers["clock.utc"] = (numbers["clock.utc"] + dt_s) % DAY_S
        above = max(0.0, numbers["flight.altitude"] - self._elevation_ft)
        ground = self._panel.dial["flight.outside_air_temperature"]
        cooled = max(min(ground, -56.5), ground - 1.98 * above / 1000.0)
        numbers["flight.outside_air_temperature"] = max(-89.0, cooled)
        shift = standard_height_ft(numbers["weather.qnh"])
        altitude = clamp(numbers["flight.altitude"] + shift, -2000.0, 60000.0)
        numbers["flight.pressure_altitude"] = altitude
        self.pressure_hpa = pressure_hpa(altitude)
        self.density_kg_m3 = density_kg_m3(self.pressure_hpa, numbers["flight.outside_air_temperature"])

    def headwind_ms(self, heading_deg: float) -> float:
        """Return the headwind for a heading, m/s; negative from behind."""
        numbers = self._panel.numbers
        off = radians(numbers["weather.wind_direction"] - heading_deg)
        return numbers["weather.wind_speed"] * KT_MS * cos(off)
