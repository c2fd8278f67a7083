"""Great-circle distance between two places.

Takes: degrees of latitude and longitude, WGS-84.  Gives: nautical miles.
"""

from __future__ import annotations

import math

from rules.arithmetic.domain import require_within

# Mean radius of WGS-84, 6 371.0088 km (Moritz, Geodetic Reference System 1980, from memory), in nautical miles.
EARTH_RADIUS_NM = 6371.0088 / 1.852


def distance_nm(
    latitude_deg: float, longitude_deg: float, to_latitude_deg: float, to_longitude_deg: float
) -> float:
    """Distance between two places on a spherical earth, correct to within half a per cent.

    Args:
        latitude_deg: Of the one place, north positive.
        longitude_deg: Of the one place, east positive.
        to_latitude_deg: Of the other.
        to_longitude_deg: Of the other.

    Source: haversine formula, Sinnott, Sky and Telescope 68 (1984), from memory.
    """
    here = math.radians(require_within("latitude in deg", latitude_deg, -90.0, 90.0))
    there = math.radians(require_within("latitude in deg", to_latitude_deg, -90.0, 90.0))
    north = math.sin((there - here) / 2.0) ** 2
    east = math.sin(math.radians(to_longitude_deg - longitude_deg) / 2.0) ** 2
    half_chord = math.sqrt(north + math.cos(here) * math.cos(there) * east)
    return 2.0 * EARTH_RADIUS_NM * math.asin(min(1.0, half_chord))
