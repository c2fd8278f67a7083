"""Wind: components along and across a runway, factored headwind, drift and ground speed.

Directions are all magnetic or all true; the reader of a report must not mix the two (tower and ATIS winds are
magnetic, forecast winds true; common practice).

Takes: degrees and knots.  Gives: knots and degrees.
"""

from __future__ import annotations

import math

from rules.arithmetic.domain import DomainError, require_not_negative, require_positive

# 14 CFR 25.105(d)(1) and 25.125(f) (from memory): not more than 50 % of a headwind, not less than 150 % of a tailwind.
HEADWIND_CREDIT = 0.5
TAILWIND_DEBIT = 1.5


def angle_difference_deg(from_deg: float, to_deg: float) -> float:
    """Angle from one direction to another the short way round, -180 to 180, clockwise positive.  Source: geometry."""
    gap_deg = (to_deg - from_deg) % 360.0
    return gap_deg - 360.0 if gap_deg > 180.0 else gap_deg


def headwind_kt(direction_deg: float, wind_kt: float, runway_heading_deg: float) -> float:
    """Wind component along a runway; a tailwind is negative.

    Args:
        direction_deg: Direction from which the wind blows.
        wind_kt: Wind speed.
        runway_heading_deg: Heading of the runway in use.

    Source: FAA-H-8083-25, chapter 11, crosswind and headwind component chart.
    """
    angle = math.radians(direction_deg - runway_heading_deg)
    return require_not_negative("wind in kt", wind_kt) * math.cos(angle)


def tailwind_kt(direction_deg: float, wind_kt: float, runway_heading_deg: float) -> float:
    """Wind component from behind along a runway; a headwind is negative.  Source: as `headwind_kt`."""
    return -headwind_kt(direction_deg, wind_kt, runway_heading_deg)


def crosswind_kt(direction_deg: float, wind_kt: float, runway_heading_deg: float) -> float:
    """Wind component across a runway, from either side.  Source: as `headwind_kt`."""
    return abs(crosswind_from_right_kt(direction_deg, wind_kt, runway_heading_deg))


def crosswind_from_right_kt(direction_deg: float, wind_kt: float, runway_heading_deg: float) -> float:
    """Wind component across a runway; from the left is negative.  Source: as `headwind_kt`."""
    angle = math.radians(direction_deg - runway_heading_deg)
    return require_not_negative("wind in kt", wind_kt) * math.sin(angle)


def factored_headwind_kt(direction_deg: float, wind_kt: float, runway_heading_deg: float) -> float:
    """Headwind for performance calculations: half of a headwind, one and a half times a tailwind.

    Source: 14 CFR 25.105(d)(1), 25.125(f) (from memory).
    """
    along_kt = headwind_kt(direction_deg, wind_kt, runway_heading_deg)
    return along_kt * (HEADWIND_CREDIT if along_kt > 0.0 else TAILWIND_DEBIT)


def drift_deg(track_deg: float, tas_kt: float, direction_deg: float, wind_kt: float) -> float:
    """Wind correction angle: from the track to the heading, right positive.

    Source: the wind triangle, FAA-H-8083-25, chapter 16.  `DomainError` where the wind is too strong to fly the track.
    """
    across = require_not_negative("wind in kt", wind_kt) * math.sin(math.radians(direction_deg - track_deg))
    share = across / require_positive("true airspeed in kt", tas_kt)
    if abs(share) > 1.0:
        raise DomainError(f"a crosswind of {abs(across):.0f} kt at {tas_kt:g} kt", "less wind than airspeed")
    return math.degrees(math.asin(share))


def ground_speed_kt(track_deg: float, tas_kt: float, direction_deg: float, wind_kt: float) -> float:
    """Speed over the ground on a track.  Source and errors: as `drift_deg`."""
    drift = math.radians(drift_deg(track_deg, tas_kt, direction_deg, wind_kt))
    return tas_kt * math.cos(drift) - headwind_kt(direction_deg, wind_kt, track_deg)
