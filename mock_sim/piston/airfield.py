"""The invented field of Hollin Mead (XHOL): its position, runway 31, taxiways and weather.

Positions are relative to the threshold of runway 31: metres along the runway, and metres to the right of it.

Takes: positions in metres.  Gives: taxi routes, latitude and longitude.
"""

from __future__ import annotations

from math import cos, degrees, radians, sin
from typing import TypeAlias

from mock_sim.common.panel import Part, quantity_control
from mock_sim.common.world import WEATHER_CONTROLS

RunwayPosition: TypeAlias = tuple[float, float]

ELEVATION_FT = 380.0
RUNWAY_DEG = 312.0
EARTH_M = 6371000.0
THRESHOLD_LATITUDE = 44.3180
THRESHOLD_LONGITUDE = -24.9060
"""In the open sea, so that no real field is meant; magnetic north is true north."""

STAND: RunwayPosition = (570.0, -118.0)
STAND_DEG = (RUNWAY_DEG + 180.0) % 360.0

ROUTES: dict[str, tuple[RunwayPosition, ...]] = {
    "taxi_out": (
        (540.0, -118.0), (520.0, -100.0), (505.0, -75.0), (480.0, -60.0), (25.0, -60.0), (2.0, -50.0), (0.0, -36.0),
    ),
    "line_up": ((0.0, -22.0), (8.0, -7.0), (22.0, -1.0), (45.0, 0.0), (56.0, 0.0)),
    "vacate": ((530.0, 0.0), (545.0, -5.0), (552.0, -18.0), (552.0, -46.0)),
    "taxi_in": (
        (554.0, -62.0), (572.0, -80.0), (597.0, -90.0), (608.0, -100.0), (604.0, -112.0), (592.0, -118.0), (580.0, -118.0),
        STAND,
    ),
}  # fmt: skip
"""Taxi routes: each starts where the previous one ends."""

PART = Part(
    controls={
        **WEATHER_CONTROLS,
        "flight.outside_air_temperature": 9.0,
        "weather.qnh": 1017.0,
        "weather.wind_direction": 290.0,
        "weather.wind_speed": 7.0,
        "weather.humidity": 70.0,
    },
    drives={"flight.outside_air_temperature": 9.0, "flight.pressure_altitude": ELEVATION_FT},
    extra=(quantity_control("weather.humidity", "%", 0.0, 100.0, "Relative humidity at the aeroplane"),),
)


def to_metres(position: RunwayPosition) -> tuple[float, float]:
    """Return a runway position as metres north and east of the threshold.

    Args:
        position: metres along the runway and to the right of it.
    """
    along, right = position
    course = radians(RUNWAY_DEG)
    return along * cos(course) - right * sin(course), along * sin(course) + right * cos(course)


def runway_position(north_m: float, east_m: float) -> RunwayPosition:
    """Return metres north and east of the threshold as a position along and beside the runway.

    Args:
        north_m: metres north.
        east_m: metres east.
    """
    course = radians(RUNWAY_DEG)
    return north_m * cos(course) + east_m * sin(course), east_m * cos(course) - north_m * sin(course)


def latitude_longitude(north_m: float, east_m: float) -> tuple[float, float]:
    """Return latitude and longitude in degrees.

    Args:
        north_m: metres north of the threshold.
        east_m: metres east of it.
    """
    latitude = max(-85.0, min(85.0, THRESHOLD_LATITUDE + degrees(north_m / EARTH_M)))
    longitude = THRESHOLD_LONGITUDE + degrees(east_m / EARTH_M) / cos(radians(latitude))
    return latitude, (longitude + 180.0) % 360.0 - 180.0
