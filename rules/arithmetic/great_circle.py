"""Great-circle distance between two places, and the place along and beside a line.

Takes: degrees of latitude and longitude, WGS-84, and of direction.  Gives: nautical miles.
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


def along_line_nm(
    latitude_deg: float,
    longitude_deg: float,
    from_latitude_deg: float,
    from_longitude_deg: float,
    course_deg: float,
) -> float:
    """Distance along a line from its beginning, negative before it; for the surroundings of an aerodrome.

    Args:
        latitude_deg: Of the place, north positive.
        longitude_deg: Of the place, east positive.
        from_latitude_deg: Where the line begins, such as the threshold of a runway.
        from_longitude_deg: The same.
        course_deg: True direction of the line.

    Source: a plane at the beginning of the line; the error is below 0.3 % of the distance up to 20 NM and 70 degrees of
    latitude, computed.
    """
    return _on_plane(latitude_deg, longitude_deg, from_latitude_deg, from_longitude_deg, course_deg)[0]


def beside_line_nm(
    latitude_deg: float,
    longitude_deg: float,
    from_latitude_deg: float,
    from_longitude_deg: float,
    course_deg: float,
) -> float:
    """Distance beside a line, right positive; for the surroundings of an aerodrome.

    Args:
        latitude_deg: Of the place, north positive.
        longitude_deg: Of the place, east positive.
        from_latitude_deg: Where the line begins, such as the threshold of a runway.
        from_longitude_deg: The same.
        course_deg: True direction of the line.

    Source: as for `along_line_nm`.
    """
    return _on_plane(latitude_deg, longitude_deg, from_latitude_deg, from_longitude_deg, course_deg)[1]


def _on_plane(
    latitude_deg: float,
    longitude_deg: float,
    from_latitude_deg: float,
    from_longitude_deg: float,
    course_deg: float,
) -> tuple[float, float]:
    """Distance along a line and beside it, in NM, on a plane whose scale is that of the middle latitude."""
    there = require_within("latitude in deg", latitude_deg, -90.0, 90.0)
    begin = require_within("latitude in deg", from_latitude_deg, -90.0, 90.0)
    turned_deg = (longitude_deg - from_longitude_deg + 180.0) % 360.0 - 180.0
    north = math.radians(there - begin) * EARTH_RADIUS_NM
    east = math.radians(turned_deg) * EARTH_RADIUS_NM * math.cos(math.radians((there + begin) / 2.0))
    course = math.radians(course_deg)
    return north * math.cos(course) + east * math.sin(course), east * math.cos(course) - north * math.sin(
        course
    )
