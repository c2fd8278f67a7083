"""Descent planning: distance, path angle and descent rate.

Takes: feet, nautical miles, knots, degrees.  Gives: nautical miles, degrees, ft/min.
"""

from __future__ import annotations

import math

from rules.arithmetic.atmosphere import METRES_PER_FOOT, METRES_PER_NAUTICAL_MILE
from rules.arithmetic.domain import require_not_negative, require_positive, require_within

FEET_PER_NAUTICAL_MILE = METRES_PER_NAUTICAL_MILE / METRES_PER_FOOT
STANDARD_PATH_DEG = 3.0


def _slope(path_deg: float) -> float:
    return math.tan(math.radians(require_within("path angle in deg", path_deg, 0.5, 15.0)))


def distance_to_descend_nm(height_to_lose_ft: float, path_deg: float = STANDARD_PATH_DEG) -> float:
    """Distance before the target at which a straight descent begins.

    Source: geometry; three miles for each thousand feet is the rule of thumb for 3 degrees (common practice).
    """
    return (
        require_not_negative("height to lose in ft", height_to_lose_ft)
        / FEET_PER_NAUTICAL_MILE
        / _slope(path_deg)
    )


def descent_rate_ft_min(ground_speed_kt: float, path_deg: float = STANDARD_PATH_DEG) -> float:
    """Descent rate on a path: about five times the ground speed at 3 degrees.  Source: geometry."""
    return (
        require_not_negative("ground speed in kt", ground_speed_kt)
        * FEET_PER_NAUTICAL_MILE
        / 60.0
        * _slope(path_deg)
    )


def required_rate_ft_min(height_to_lose_ft: float, distance_nm: float, ground_speed_kt: float) -> float:
    """Descent rate that loses a height within a distance.  Source: geometry and definition of speed."""
    time_min = (
        require_positive("distance in NM", distance_nm)
        / require_positive("ground speed in kt", ground_speed_kt)
        * 60.0
    )
    return require_not_negative("height to lose in ft", height_to_lose_ft) / require_positive(
        "time in min", time_min
    )


def path_angle_deg(height_to_lose_ft: float, distance_nm: float) -> float:
    """Path angle of a straight descent.  Source: geometry."""
    run_ft = require_positive("distance in NM", distance_nm) * FEET_PER_NAUTICAL_MILE
    return math.degrees(math.atan2(require_not_negative("height to lose in ft", height_to_lose_ft), run_ft))
