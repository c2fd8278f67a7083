"""The two invented airports, the ground between them, and the route of the flight management.

Both lie in the open sea, so that no real airport is meant.  The earth is flat around each of them, and magnetic north is
true north.

Takes: latitude and longitude.  Gives: elevation, and the position of runways and waypoints from here.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import atan2, cos, degrees, hypot, radians, sin

from mock_sim.common.panel import Part
from mock_sim.common.world import WEATHER_CONTROLS

FIELD_ELEVATION_FT = 210.0
START_LATITUDE = 46.8120
START_LONGITUDE = -21.4470
"""The parking position at Port Averil, in the open sea, so that no real airport is meant."""

PART = Part(
    controls=WEATHER_CONTROLS,
    drives={"flight.outside_air_temperature": 6.0, "flight.pressure_altitude": FIELD_ELEVATION_FT},
)

NM_FT = 1852.0 / 0.3048
FLAT_RADIUS_NM = 20.0
"""Radius around an airport in which the ground has the field's elevation."""


@dataclass(frozen=True, slots=True)
class Runway:
    """One runway direction with an instrument landing system; degrees, ft and MHz."""

    ident: str
    heading_deg: float
    latitude: float
    longitude: float
    elevation_ft: float
    ils_mhz: float
    ils_ident: str


AVERIL = Runway("14", 143.0, 46.81775, -21.45432, FIELD_ELEVATION_FT, 109.50, "PAV")
SELMAR = Runway("27", 268.0, 43.1820, -20.3950, 640.0, 110.30, "SLM")
RUNWAYS = (AVERIL, SELMAR)
ROUTE = (
    (46.4850, -21.0900),
    (43.2670, -19.9870),
    (43.1903, -20.0750),
)
"""From Port Averil on the runway heading, along the sea, and onto the final of runway 27, 14 NM out."""


def offset_nm(
    latitude: float, longitude: float, to_latitude: float, to_longitude: float
) -> tuple[float, float]:
    """Return how far north and east another place is, in NM, on a flat earth.

    Args:
        latitude: here, degrees.
        longitude: here, degrees.
        to_latitude: there, degrees.
        to_longitude: there, degrees.
    """
    north = 60.0 * (to_latitude - latitude)
    return north, 60.0 * (to_longitude - longitude) * cos(radians(0.5 * (latitude + to_latitude)))


def from_runway(runway: Runway, latitude: float, longitude: float) -> tuple[float, float]:
    """Return a position relative to a threshold, NM: distance before it, and distance right of the centre line.

    Args:
        runway: with its threshold.
        latitude: of the place, degrees.
        longitude: of the place, degrees.
    """
    north, east = offset_nm(latitude, longitude, runway.latitude, runway.longitude)
    ahead = radians(runway.heading_deg)
    return north * cos(ahead) + east * sin(ahead), north * sin(ahead) - east * cos(ahead)


def elevation_ft(latitude: float, longitude: float) -> float:
    """Return the ground elevation: the field's own around each airport, a constant slope between them.

    Args:
        latitude: degrees.
        longitude: degrees.
    """
    far = [hypot(*offset_nm(latitude, longitude, end.latitude, end.longitude)) for end in RUNWAYS]
    if far[0] <= FLAT_RADIUS_NM:
        return AVERIL.elevation_ft
    if far[1] <= FLAT_RADIUS_NM:
        return SELMAR.elevation_ft
    share = (far[0] - FLAT_RADIUS_NM) / (far[0] + far[1] - 2.0 * FLAT_RADIUS_NM)
    return AVERIL.elevation_ft + share * (SELMAR.elevation_ft - AVERIL.elevation_ft)


def bearing_and_distance(
    latitude: float, longitude: float, point: tuple[float, float]
) -> tuple[float, float]:
    """Return the bearing to a point in degrees, and the distance in NM.

    Args:
        latitude: here, degrees.
        longitude: here, degrees.
        point: latitude and longitude there.
    """
    north, east = offset_nm(latitude, longitude, *point)
    return degrees(atan2(east, north)) % 360.0, hypot(north, east)
