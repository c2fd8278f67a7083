"""The world around the aeroplane: air, weather, and the invented airport that it stands on.

Takes: weather as somebody sets it, height.  Gives: temperature, pressure, density where the aeroplane is.
"""

from __future__ import annotations

from mock_sim.aeroplane.atmosphere import density_kg_m3, pressure_hpa, standard_height_ft
from mock_sim.aeroplane.dynamics import clamp
from mock_sim.aeroplane.panel import Panel, Part

FIELD_ELEVATION_FT = 210.0
START_LATITUDE = 46.8120
START_LONGITUDE = -21.4470
"""In the open sea, so that no real airport is meant; the field is flat and magnetic north is true north."""

PART = Part(
    controls={
        "sim.paused": "no",
        "sim.rate": 1.0,
        "flight.outside_air_temperature": 6.0,
        "weather.visible_moisture": "no",
        "weather.qnh": 1009.0,
        "weather.wind_direction": 150.0,
        "weather.wind_speed": 6.0,
        "weather.visibility": 9999.0,
        "weather.night": "no",
    },
    drives={"flight.outside_air_temperature": 6.0, "flight.pressure_altitude": FIELD_ELEVATION_FT},
)


class World:
    """Air where the aeroplane is: `pressure_hpa`, `density`."""

    def __init__(self, panel: Panel, elevation_ft: float = FIELD_ELEVATION_FT) -> None:
        """The weather of the start, at a field of some elevation."""
        self._panel = panel
        self._elevation_ft = elevation_ft
        self.pressure_hpa = 1013.25
        self.density = 1.225
        self.step(0.0)

    def step(self, dt_s: float) -> None:  # noqa: ARG002 - the air has no memory
        """Work out the air at the present height."""
        numbers = self._panel.numbers
        above = max(0.0, numbers["flight.altitude"] - self._elevation_ft)
        ground = self._panel.dial["flight.outside_air_temperature"]
        cooled = max(min(ground, -56.5), ground - 1.98 * above / 1000.0)
        numbers["flight.outside_air_temperature"] = max(-89.0, cooled)
        shift = standard_height_ft(numbers["weather.qnh"])
        altitude = clamp(numbers["flight.altitude"] + shift, -2000.0, 60000.0)
        numbers["flight.pressure_altitude"] = altitude
        self.pressure_hpa = pressure_hpa(altitude)
        self.density = density_kg_m3(self.pressure_hpa, numbers["flight.outside_air_temperature"])
